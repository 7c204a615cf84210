"""Bounds that were computed, kept so that reports of the same lamp can cite them.

A bound is kept in the user's cache folder under a hash of the program's version and everything in
the lamp file; a lamp that differs in anything has none until it is bounded itself.
"""

import contextlib
import hashlib
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

from derate import __version__
from derate.report.words import below_or_above
from derate.report.worst_words import span_words, thing

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp
    from derate.limits.worst.study import Worst


def remember(study: "Worst") -> None:
    """Keep a bound, where the disk takes it."""
    unit = study.units[0]
    place = unit.places[0]
    where = "" if unit.name == "as described" else f" at the {unit.name} of the tolerances"
    sentence = (
        f"no history of requests brings the {thing(place.name)} beyond {place.bound_c:.1f} degC"
        f"{where}, {below_or_above(place.margin_k)} (derate worst, {span_words(study.span)})"
    )
    with contextlib.suppress(OSError, RuntimeError):
        file = _file(study.lamp)
        file.parent.mkdir(parents=True, exist_ok=True)
        fresh = file.with_suffix(f".{os.getpid()}")
        fresh.write_text(json.dumps({"bound": sentence}), encoding="utf-8")
        fresh.replace(file)


def cited(lamp: "Lamp") -> str | None:
    """What the bound of a lamp says, None where it was not computed."""
    try:
        found = json.loads(_file(lamp).read_text(encoding="utf-8"))["bound"]
    except (OSError, RuntimeError, ValueError, KeyError, TypeError):
        return None
    return found if isinstance(found, str) else None


def _file(lamp: "Lamp") -> Path:
    told = f"{__version__} {lamp!r}"  # every value of the file, with all its digits
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return root / "derate" / "bounds" / f"{hashlib.sha256(told.encode()).hexdigest()}.json"
