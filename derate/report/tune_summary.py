"""The machine's view of a tuning: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate.report import tune_words as words
from derate.report.document import json_text, plain

if TYPE_CHECKING:
    from derate.study.tune import Tuning
    from derate.study.tune_front import Tried
    from derate.study.tune_trial import Figures


def to_json(tuning: "Tuning") -> str:
    """The tuning as JSON text, one line feed at its end."""
    return json_text(summary(tuning))


def summary(tuning: "Tuning") -> dict[str, Any]:
    """Everything there is to know, keys with unit suffixes; None where there is no number."""
    document = {
        "program": "derate",
        "lamp": tuning.lamp.name,
        "profiles": tuning.profiles,
        "units": tuning.units,
        "held": tuning.chosen is not None,
        "enough": tuning.enough,
        "interrupted": tuning.interrupted,
        "verdict": words.verdict(tuning),
        "reason": words.reason(tuning),
        "asked": {
            **dataclasses.asdict(tuning.goal),
            "least_light": tuning.wanted.least_light,
            "corners": tuning.wanted.corners,
            "keep": tuning.wanted.keep,
        },
        "present": _figures(tuning.present),
        "recommended": None if tuning.chosen is None else _tried(tuning.chosen),
        "closest": _tried(tuning.closest),
        "settings": [row._asdict() | {"flat": row.flat} for row in words.setting_rows(tuning)],
        "margin_trade_off": [_tried(one) for one in tuning.margins],
        "step_trade_off": [_tried(one) for one in tuning.steps],
        "moved": [
            {"key": s.key, "values": s.said, "figures": [_figures(one) for one in s.figures]}
            for s in tuning.swings
        ],
        "timeline": [{**dataclasses.asdict(c), "agrees": c.agrees} for c in tuning.checks],
        "drawn": None if tuning.drawn is None else dataclasses.asdict(tuning.drawn),
        "tried": tuning.tried,
        "runs": tuning.runs,
        "seconds": tuning.seconds,
        "finished": tuning.finished,
        "warnings": words.warnings(tuning),
        "provenance": {**tuning.source, "seed": tuning.wanted.seed},
    }
    cleaned: dict[str, Any] = plain(document)
    return cleaned


def _tried(one: "Tried") -> dict[str, Any]:
    return {"settings": dict(one.settings), **_figures(one.figures)}


def _figures(figures: "Figures") -> dict[str, Any]:
    seen = figures.seen
    return {
        "margin_k": figures.margin_k,
        "light": figures.light,
        "seen": None
        if seen is None
        else {
            **dataclasses.asdict(seen),
            "noticed_by_half": seen.noticed,
            "intervening_at_least": seen.intervening,
        },
    }
