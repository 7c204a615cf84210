"""A reading table as data: CSV with a line a code, JSON with all that the C holds."""

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from derate import __version__

if TYPE_CHECKING:
    from derate.sensing.circuit import Circuit
    from derate.sensing.tables import ReadingTable

COLUMNS = "code,state,reading_counts,reading_c,ideal_c,error_k"


def csv_text(table: "ReadingTable", circuit: "Circuit") -> str:
    """Every code the converter gives: state, reading [counts, degC], ideal chain [degC], error [K].

    A code inside a fault window has a state and nothing else.
    """
    from derate.sensing.lookup import ideal_reading_c
    from derate.sensing.tables import readings

    window, scale = table.window, table.scale
    healthy = np.arange(window.low_code + 1, window.high_code)
    counts = np.asarray(readings(table, healthy))
    ideal_c = ideal_reading_c(circuit, healthy)
    at_low, at_high = ("short", "open") if window.open_is_high else ("open", "short")
    lines = [COLUMNS]
    lines += [f"{code},{at_low},,,," for code in range(window.low_code + 1)]
    lines += [
        f"{code},healthy,{count},{count / scale:.8g},{ideal:.6f},{count / scale - ideal:.6f}"
        for code, count, ideal in zip(
            healthy.tolist(), counts.tolist(), ideal_c.tolist(), strict=True
        )
    ]
    full_scale = circuit.transfer.full_scale
    lines += [f"{code},{at_high},,,," for code in range(window.high_code, full_scale)]
    return "\n".join(lines) + "\n"


def json_text(name: str, table: "ReadingTable", about: Sequence[str] = ()) -> str:
    """The table with its provenance as one JSON document."""
    document = {"program": "derate", "version": __version__, "sensor": name, **plain(table)}
    document["about"] = list(about)
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain(table: "ReadingTable") -> dict[str, Any]:
    """What a table is, in plain Python values; None where there is no number."""
    window = table.window
    stepped = table.kind == "temperature steps"
    return {
        "kind": table.kind,
        "counts_per_kelvin": int(table.scale),
        "codes": [int(code) for code in table.codes],
        "values": [int(value) for value in table.values],
        "value_step": table.step_value if stepped else None,
        "first_code": int(table.first_code),
        "code_shift": int(table.shift),
        "segments": int(table.segments),
        "segments_lower_bound": None if table.lower_bound is None else int(table.lower_bound),
        "bytes": int(table.bytes),
        "operations": int(table.operations),
        "error_k": float(table.error_k),
        "fault_window": {
            "low_code": int(window.low_code),
            "high_code": int(window.high_code),
            "open_is_high": bool(window.open_is_high),
            "open_margin_codes": int(window.open_margin_codes),
            "short_margin_codes": int(window.short_margin_codes),
            "open_fires_c": _finite(window.open_fires_c),
            "short_fires_c": _finite(window.short_fires_c),
        },
    }


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
