"""The machine's view of a controller on its cores: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate.report import firmware_words as words
from derate.report.document import json_text, plain

if TYPE_CHECKING:
    from derate.study.target_figures import OnTarget, TargetStudy


def to_json(study: "TargetStudy") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "TargetStudy") -> dict[str, Any]:
    """Everything there is to know; states as hexadecimal bytes, None where there is no number."""
    document = {
        "program": "derate",
        "lamp": study.lamp.name,
        "own_c": study.own,
        "agrees": study.agrees,
        "verdict": words.verdict(study),
        "compared_steps": study.compared,
        "likely_cause": words.likely_cause(study),
        "complaint": study.complaint,
        "dead_zone": None if study.dead_zone is None else dataclasses.asdict(study.dead_zone),
        "clock_hz": study.clock_hz,
        "control_period_s": study.lamp.timing.control_period_s,
        "cores": {core.target.name: _core(study, core) for core in study.cores},
        "provenance": study.source,
    }
    cleaned: dict[str, Any] = plain(document)
    return cleaned


def _core(study: "TargetStudy", core: "OnTarget") -> dict[str, Any]:
    made = dataclasses.asdict(core)
    difference = core.difference
    if difference is not None:
        found = difference._asdict()
        made["difference"] = found | {
            "expected": difference.expected._asdict(),
            "found": difference.found._asdict(),
            "expected_state": difference.expected_state.hex(),
            "found_state": difference.found_state.hex(),
        }
    made["target"] = {
        name: getattr(core.target, name) for name in ("title", "int_bits", "timing", "flags")
    }
    return made | {"share_of_period": study.share_of_tick(core), "agrees": core.agrees}
