"""The machine's view of an operating point: one JSON document without NaN, and the curve as CSV."""

import dataclasses
import math
from typing import TYPE_CHECKING, Any

from derate import __version__
from derate.report.document import json_text
from derate.report.point_colour import colour_numbers
from derate.report.point_sentences import derating_words, places_words
from derate.report.point_words import verdict

if TYPE_CHECKING:
    from derate.study.board import BoardPoint
    from derate.study.derating import Derating
    from derate.study.path import HeatPath
    from derate.study.point import PointStudy


def to_json(study: "PointStudy") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "PointStudy") -> dict[str, Any]:
    """Everything there is to know but the maps of the board, keys with unit suffixes."""
    return {
        "program": "derate",
        "version": __version__,
        "lamp": study.lamp.name,
        "ambient_c": study.ambient_c,
        "airflow": study.airflow,
        "requests": study.requests,
        "holds": study.holds,
        "verdict": verdict(study),
        "stability": _dict(study.stability),
        "limit": _dict(study.limit),
        "channels": _dicts(study.channels),
        "sensors": _dicts(study.sensors),
        "nodes": _dicts(study.nodes),
        "power": _dict(study.power),
        "paths": [_path(path) for path in study.paths],
        "surfaces": _dicts(study.surfaces),
        "helps": _dicts(study.helps),
        "nearest_junction": _dict(study.junction),
        "junction_helps": _dicts(study.junction_helps),
        "what_ifs": _dicts(study.what_ifs),
        "derating": {
            "words": derating_words(study.derating, study.ambient_c),
            **dataclasses.asdict(study.derating),
        },
        "safe_ambients": _dicts(study.safe_ambients),
        "most_light": _dict(study.best),
        "thresholds": _dicts(study.thresholds),
        "control": _dict(study.settled),
        "impedances": _dicts(study.impedances),
        "board": _board(study),
        "colour": colour_numbers(study.colour),
        "shared": _dicts(study.shared),
        "cost": _dict(study.cost),
        "comparison": _dict(study.comparison),
        "warnings": study.warnings,
        "provenance": study.source,
    }


def derating_csv(derating: "Derating") -> str:
    """The derating curve: a line of column names with units, then a line an ambient."""
    names = list(derating.mix)
    head = ["ambient_c", "permitted", *(f"command_{name}" for name in names), "light_lm", "acting"]
    lines = [",".join(head)]
    for ambient_c, share, light_lm, acting in zip(
        derating.ambient_c.tolist(), derating.permitted.tolist(), derating.light_lm.tolist(),
        derating.acting, strict=True,
    ):  # fmt: skip
        values = [ambient_c, share, *(share * derating.mix[name] for name in names), light_lm]
        lines.append(",".join([*map(_figure, values), acting]))
    return "\n".join(lines) + "\n"


def _board(study: "PointStudy") -> dict[str, Any] | None:
    """Errors, spreading and advice; the maps are in the figures."""
    board: BoardPoint | None = study.board
    if board is None:
        return None
    places = board.places
    return {
        "error": _dict(board.error),
        "spreading": _dicts(board.spreading),
        "advised": None if places is None else {
            "words": places_words(study),
            "at_m": places.advised_m,
            "offset_k": places.advised_offset_k,
            "lag_s": places.advised_lag_s,
        },
    }  # fmt: skip


def _path(path: "HeatPath") -> dict[str, Any]:
    """A heat path, each step with its resistance."""
    steps = [
        {**dataclasses.asdict(step), "resistance_k_per_w": step.resistance_k_per_w}
        for step in path.steps
    ]
    return {**dataclasses.asdict(path), "steps": steps}


def _figure(value: float) -> str:
    return f"{value:.8g}" if math.isfinite(value) else ""


def _dict(part: Any) -> dict[str, Any] | None:
    return None if part is None else dataclasses.asdict(part)


def _dicts(parts: tuple[Any, ...]) -> list[dict[str, Any]]:
    return [dataclasses.asdict(part) for part in parts]
