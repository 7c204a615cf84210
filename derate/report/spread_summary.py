"""The machine's view of part tolerances: one JSON document without NaN, and every unit as CSV."""

import dataclasses
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from derate import __version__
from derate.report.document import json_text
from derate.report.spread_words import chance_words, verdict
from derate.study.spread import QUANTILES

if TYPE_CHECKING:
    from derate.study.chance import Chance
    from derate.study.spread import Distribution, Spread

CHUNK_ROWS = 4096


def to_json(study: "Spread") -> str:
    """The study as JSON text, one line feed at its end."""
    return json_text(summary(study))


def summary(study: "Spread") -> dict[str, Any]:
    """Everything there is to know but the single units, keys with unit suffixes."""
    places = zip(study.places, study.peaks, study.over_each, strict=True)
    return {
        "program": "derate",
        "version": __version__,
        "lamp": study.lamp.name,
        "profile": study.profile_name,
        "units": study.over.drawn,
        "units_asked": study.asked,
        "held": study.held,
        "verdict": verdict(study),
        "over": {**_chance(study.over), "words": chance_words(study.over)},
        "guard_k": study.guard_k,
        "within_guard": study.near,
        "cutout_tripped": None if study.tripped is None else _chance(study.tripped),
        "places": [
            {
                "name": place.name,
                "junction": place.junction,
                "limit_c": place.limit_c,
                "peak_c": _distribution(peak),
                "over": _chance(over),
            }
            for place, peak, over in places
        ],
        "margin_k": _distribution(study.margin_k),
        "share_of_request": _distribution(study.share),
        "light_lm_h": _distribution(study.light_lm_h),
        "throttled_s": _distribution(study.throttled_s),
        "reversals": _distribution(study.reversals),
        "importance": {
            name: None if found is None else dataclasses.asdict(found)
            for name, found in study.importances.items()
        },
        "worst_units": study.worst,
        "warnings": study.warnings,
        "provenance": study.source,
    }


def units_csv(study: "Spread") -> Iterator[str]:
    """A line of column names with units, then a line a unit: its figures and its draws' scores."""
    figures, draws = study.figures, study.draws
    head = ["unit", *(f"peak_{place.name}_c" for place in study.places), "margin_k"]
    head += ["share_of_request", "light_lm_h", "throttled_s", "reversals", "ran_away"]
    yield ",".join([*head, *(f"score_{name}" for name in draws.names)]) + "\n"
    for start in range(0, len(figures.units), CHUNK_ROWS):
        rows = slice(start, start + CHUNK_ROWS)
        columns = [
            figures.units[rows], *figures.peak_c[rows].T, figures.margin_k[rows],
            figures.share[rows], figures.light_lm_h[rows], figures.throttled_s[rows],
            figures.reversals[rows], figures.ran_away[rows].astype(int), *draws.scores[rows].T,
        ]  # fmt: skip
        lists = [column.tolist() for column in columns]
        lines = (",".join(f"{value:.8g}" for value in row) for row in zip(*lists, strict=True))
        yield "\n".join(lines) + "\n"


def _distribution(one: "Distribution") -> dict[str, Any]:
    quantiles = {
        f"{100 * at:g} %": value for at, value in zip(QUANTILES, one.quantiles, strict=True)
    }
    return {"quantiles": quantiles, "worst": one.worst}


def _chance(one: "Chance") -> dict[str, Any]:
    return {**dataclasses.asdict(one), "share": one.share}
