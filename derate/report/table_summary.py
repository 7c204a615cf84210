"""The machine's view of a reading study: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate import __version__
from derate.firmware.table_data import plain
from derate.report.document import json_text
from derate.report.table_words import hint, saturated, verdict
from derate.sensing.description import chain_words, situation_words
from derate.sensing.thermistor import fit_of

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy

CODES = ("codes", "values")


def to_json(study: "ReadingStudy") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "ReadingStudy") -> dict[str, Any]:
    """Everything there is to know, keys with unit suffixes."""
    return {
        "program": "derate",
        "version": __version__,
        "sensor": study.name,
        "chain": chain_words(study.sensor, study.circuit),
        "fit": _fit(study),
        "range_c": study.range_c,
        "interest_c": study.interest_c,
        "wanted": dataclasses.asdict(study.wanted),
        "verdict": verdict(study),
        "table": plain(study.table),
        "other_tables": [
            {key: value for key, value in plain(table).items() if key not in CODES}
            for table in study.tables
        ],
        "budget": _budget(study),
        "resistor": hint(study),
        "resistors": [one._asdict() for one in study.candidates],
        "threshold": None if study.threshold is None else study.threshold._asdict(),
        "warnings": study.warnings,
        "provenance": study.source,
    }


def _fit(study: "ReadingStudy") -> dict[str, Any] | None:
    """The curve behind the thermistor's points, with what is left at each; None without points."""
    made = fit_of(study.sensor.thermistor)
    if made is None:
        return None
    names = ("model", "why", "coefficients", "celsius", "ohm", "residual_k")
    return {name: getattr(made, name) for name in names}


def _budget(study: "ReadingStudy") -> dict[str, Any]:
    budget, confirmed = study.budget, study.confirmed
    sums = [
        f"{sum}_{side}_k" for sum in ("worst", "corner", "at_worst") for side in ("low", "high")
    ]
    units = ("least_k", "low_k", "high_k", "most_k", "fault_share", "inside", "units", "seed")
    return {
        "temperatures_c": budget.temperatures_c,
        "situation": {**study.situation._asdict(), "words": situation_words(study.situation)},
        **{name: getattr(budget, name) for name in (*sums, "bias_k", "rss_k")},
        "saturated": saturated(study),
        "contributions": [part._asdict() for part in budget.contributions if part.counts],
        "monte_carlo": {name: getattr(confirmed, name) for name in units},
    }
