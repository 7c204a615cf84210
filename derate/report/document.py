"""JSON documents for machines: plain values, no NaN, one line feed at the end."""

import json
import math
from typing import Any

from derate.report.words import encoded


def json_text(document: dict[str, Any]) -> str:
    """A document as JSON text."""
    return json.dumps(plain(document), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """The same value in plain Python types; what is not a finite number becomes None."""
    if isinstance(value, str):
        return encoded(value).decode()
    if isinstance(value, dict):
        return {str(key): plain(entry) for key, entry in value.items()}
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
