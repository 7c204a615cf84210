"""The machine's view of a result: one JSON document without NaN."""

import dataclasses
import json
import math
from typing import TYPE_CHECKING, Any

from derate.report.verdict import verdict
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.loop.run import Result


def summary(result: "Result") -> dict[str, Any]:
    """Everything but the trace, keys with unit suffixes; None where there is no number."""
    merit = dataclasses.asdict(result.merit)
    document = {
        "program": "derate",
        "lamp": result.lamp.name,
        "profile": result.profile_name,
        "duration_s": float(result.trace["time_s"][-1]),
        "held": merit.pop("held"),
        "verdict": verdict(result),
        **merit,
        "happenings": [dataclasses.asdict(happening) for happening in result.happenings],
        "provenance": dict(result.provenance),
    }
    cleaned: dict[str, Any] = _clean(document)
    return cleaned


def to_json(result: "Result") -> str:
    """The summary as JSON text, one line feed at its end."""
    return json.dumps(summary(result), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _clean(value: Any) -> Any:
    """The same value in plain Python types; what is not a finite number becomes None."""
    if isinstance(value, str):
        return encoded(value).decode()
    if isinstance(value, dict):
        return {str(key): _clean(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(entry) for entry in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
