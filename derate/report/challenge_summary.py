"""The machine's view of a search for a counterexample: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate import __version__
from derate.limits.challenge import keys_of_finding
from derate.report.challenge_words import light_words, rests_on, told, verdict
from derate.report.document import json_text
from derate.report.verdict import by_margin

if TYPE_CHECKING:
    from derate.limits.challenge import Challenge
    from derate.limits.trials import Finding


def to_json(study: "Challenge") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "Challenge") -> dict[str, Any]:
    """Everything there is to know, keys with unit suffixes."""
    nearest, space = by_margin(study.replay)[0], study.space
    return {
        "program": "derate",
        "version": __version__,
        "lamp": study.lamp.name,
        "holds": study.holds,
        "counterexample": study.passed,
        "verdict": verdict(study),
        "rests_on": "search",
        "not_said": rests_on(study),
        "histories": study.histories,
        "runs": study.runs,
        "cut_short": study.cut_short,
        "guard_k": study.wanted.guard_k,
        "margin_k": study.margin_k,
        "place": study.place,
        "limit_c": nearest.limit_c,
        "peak_c": nearest.peak_c,
        "peak_at_s": nearest.peak_at_s,
        "told": told(study),
        "profile": keys_of_finding(study.found, space),
        "found": _finding(study.found, study),
        "ways": {way: _finding(one, study) for way, one in study.ways.items()},
        "light": {
            "words": light_words(study),
            "largest_step": study.seen.step,
            "hunting_period_s": study.seen.period_s,
            "hunting_swing": study.seen.swing,
        },
        "space": {
            "coldest_c": space.coldest_c,
            "hottest_c": space.hottest_c,
            "airflow": space.airflow,
            "duration_s": space.duration_s,
            "faults": space.faults,
        },
        "doubts": study.doubts,
        "provenance": study.source,
    }


def _finding(one: "Finding", study: "Challenge") -> dict[str, Any]:
    return {
        "margin_k": one.margin_k,
        "peak_at_s": one.peak_at_s,
        "unit": one.surroundings.unit.name,
        "scores": one.surroundings.unit.scores,
        "ambient_c": one.surroundings.ambient_c(study.space),
        "pieces": [dataclasses.asdict(piece) for piece in one.history.pieces],
        "faults": [dataclasses.asdict(fault) for fault in one.history.faults],
    }
