"""The machine's view of a bound: one JSON document without NaN."""

from typing import TYPE_CHECKING, Any

from derate.report import worst_words as words
from derate.report.document import json_text, plain

if TYPE_CHECKING:
    from derate.limits.worst.study import PlaceBound, UnitBounds, Worst


def to_json(study: "Worst") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "Worst") -> dict[str, Any]:
    """Everything there is to know, keys with unit suffixes; None where there is no number."""
    (cold_c, hot_c), (least, most) = study.span
    cleaned: dict[str, Any] = plain({
        "program": "derate",
        "lamp": study.lamp.name,
        "held": study.holds,
        "verdict": words.verdict(study),
        "rests_on": words.RESTS,
        "ambient_c": [cold_c, hot_c],
        "airflow": [least, most],
        "units": [_unit(study, unit) for unit in study.units],
        "threshold_shift_k": study.shift_k,
        "notes": study.notes,
        "not_covered": words.NOT_MODELLED,
        "provenance": study.source,
    })  # fmt: skip
    return cleaned


def _unit(study: "Worst", unit: "UnitBounds") -> dict[str, Any]:
    return {
        "name": unit.name,
        "moved": unit.moved,
        "hottest_sensor_c": unit.watched.hottest_c.tolist(),
        "reads_cold_k": [one.cold_k for one in unit.watched.least],
        "places": [_place(study, unit, place) for place in unit.places],
    }


def _place(study: "Worst", unit: "UnitBounds", place: "PlaceBound") -> dict[str, Any]:
    found: dict[str, Any] = {
        "name": place.name,
        "limit_c": place.limit_c,
        "bound_c": place.bound_c,
        "margin_k": place.margin_k,
        "full_light_for_ever_c": place.open_c,
        "acts": words.acting_words(unit, place),
    }
    if place.replay is not None:
        found |= {
            "replayed_c": place.replay.peak_c,
            "replayed_at_s": place.replay.peak_at_s,
            "gap_k": place.gap_k,
            "steady_c": place.replay.steady_c,
            "history": words.history_words(study, place),
        }
    return found
