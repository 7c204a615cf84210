"""Quantities of a lamp file in the units that stand there."""

import re
import tomllib
from typing import Any

from derate.lamp.lamp import Lamp

NUMBER = re.compile(r"\s*([-+]?\d+(?:\.\d*)?(?:[eE][-+]?\d+)?)\s*(\S.*?)\s*")


def instead(lamp: Lamp, key: str, factor: float, stands_for: str) -> str:
    """The quantity at ``key`` times ``factor``, and the present one: "35 instead of 28 mm".

    ``stands_for``: the present one with a unit, for a lamp without a file.
    """
    number, unit = _parts(_stated(lamp, key)) or _parts(stands_for) or (1.0, "")
    return f"{factor * number:.3g} instead of {number:.3g} {unit}"


def _stated(lamp: Lamp, key: str) -> Any:
    """What the file says at a key path, None where it says nothing."""
    found: Any = tomllib.loads(lamp.text) if lamp.text else None
    for step in key.split("."):
        if isinstance(found, list):
            named = (one for i, one in enumerate(found) if step in (one.get("name"), str(i)))
            found = next(named, None)
        else:
            found = found.get(step) if isinstance(found, dict) else None
    return found


def _parts(text: Any) -> tuple[float, str] | None:
    found = NUMBER.fullmatch(text) if isinstance(text, str) else None
    return (float(found[1]), found[2]) if found else None
