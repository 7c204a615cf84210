"""The machine's view of the fault matrix: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate import __version__
from derate.limits.fault_kinds import MOMENTS
from derate.report.document import json_text
from derate.report.faults_beside import cutout_facts, early_facts
from derate.report.faults_words import (
    RESTS,
    cell_words,
    verdict,
    why_words,
)

if TYPE_CHECKING:
    from derate.limits.cutout import CutoutStudy
    from derate.limits.cutout_alone import Outcome
    from derate.limits.early import Detection, Look
    from derate.limits.fault_cells import Cell
    from derate.limits.fault_matrix import FaultStudy, Row


def to_json(study: "FaultStudy") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "FaultStudy") -> dict[str, Any]:
    """Everything there is to know but the rates of single units, keys with unit suffixes."""
    return {
        "program": "derate",
        "version": __version__,
        "lamp": study.lamp.name,
        "held": study.held,
        "verdict": verdict(study),
        "rests_on": RESTS,
        "surroundings": dataclasses.asdict(study.around),
        "faults": [_row(row, study) for row in study.rows],
        "without_heat_sink": {
            "survived": study.survives if study.starts else None,
            "starts": [{"start_c": at_c, **_cell(cell)} for at_c, cell in study.starts],
            "early": [_detection(one) for one in study.early],
            "words": dict(early_facts(study)),
        },
        "cutouts": None if study.cutouts is None else _cutouts(study.cutouts),
        "cutout_words": dict(cutout_facts(study)),
        "warnings": study.warnings,
        "provenance": study.source,
    }


def _row(row: "Row", study: "FaultStudy") -> dict[str, Any]:
    return {
        "fault": row.fault.name,
        "event": row.fault.event,
        "control_ought_to_hold": row.fault.saved,
        "but_not_at": sorted(row.fault.but),
        "words": why_words(row, study) if row.failed() else "",
        "moments": {m: _cell(cell) for m, cell in zip(MOMENTS, row.cells, strict=True)},
    }


def _cell(cell: "Cell") -> dict[str, Any]:
    return {**dataclasses.asdict(cell), "held": cell.held, "words": cell_words(cell)}


def _cutouts(study: "CutoutStudy") -> dict[str, Any]:
    return {
        "stays_closed_in_service": study.stays_closed,
        "holds_alone": study.holds,
        "holds_junctions_alone": study.holds_junctions,
        "service": [dataclasses.asdict(one) for one in study.service],
        "alone": [_outcome(one) for one in study.alone],
        "alone_at_corner": [_outcome(one) for one in study.corner],
        "trip_that_does": None if study.window is None else dataclasses.asdict(study.window),
    }


def _outcome(one: "Outcome") -> dict[str, Any]:
    return {**dataclasses.asdict(one), "holds": one.holds}


def _detection(one: "Detection") -> dict[str, Any]:
    best = one.best
    return {
        "factor": one.factor,
        "told_apart": best.tells,
        "window_s": best.window_s,
        "threshold_k_per_s": best.threshold_k_per_s,
        "windows": [_look(look) for look in one.looks],
    }


def _look(look: "Look") -> dict[str, Any]:
    return {
        "window_s": look.window_s,
        "threshold_k_per_s": look.threshold_k_per_s,
        "good_k_per_s": [float(look.good_k_per_s.min()), float(look.good_k_per_s.max())],
        "bad_k_per_s": [float(look.bad_k_per_s.min()), float(look.bad_k_per_s.max())],
        "false_alarms": dataclasses.asdict(look.false_alarms),
        "missed": dataclasses.asdict(look.missed),
    }
