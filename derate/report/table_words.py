"""A reading study told in a few sentences and rows, for the terminal and the page."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from derate.report.words import figures
from derate.sensing.description import ohm_words, open_words, situation_words, trip_words
from derate.sensing.tables import readings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from derate.sensing.design import Candidate
    from derate.sensing.study import ReadingStudy
    from derate.sensing.tables import ReadingTable

SHOWN_C = (-40.0, -20.0, 0.0, 25.0, 50.0, 75.0, 85.0, 100.0, 125.0, 150.0)
"""Temperatures at which the budget is told in figures, those within the working range."""
CLOSE_ENOUGH = 1.1
"""A resistor within this factor of the best one is as good, since parts vary more than that."""


SAME_K = 1e-6
"""Readings this near to each other are the same count."""


class Row(NamedTuple):
    """The error budget at one temperature [degC]: bound and middle of the units [K], causes.

    ``saturated``: the units' readings stop at an end of the table, so that their error is cut off.
    """

    celsius: float
    worst_low_k: float
    worst_high_k: float
    rss_k: float
    units_low_k: float
    units_high_k: float
    saturated: bool
    causes: tuple[tuple[str, float], ...]


def rows(study: "ReadingStudy") -> list[Row]:
    """The budget at round temperatures, the largest contributions first."""
    budget, confirmed = study.budget, study.confirmed
    cut = saturated(study)
    found = []
    for i in _rows_at(budget.temperatures_c):
        sizes = [
            (part.name, max(-float(part.worst_low_k[i]), float(part.worst_high_k[i])))
            for part in budget.contributions
        ]
        sizes.sort(key=lambda named: named[1], reverse=True)
        found.append(
            Row(
                float(budget.temperatures_c[i]),
                float(budget.at_worst_low_k[i]),
                float(budget.at_worst_high_k[i]),
                float(budget.rss_k[i]),
                float(confirmed.low_k[i]),
                float(confirmed.high_k[i]),
                bool(cut[i]),
                tuple(named for named in sizes if named[1] > 0.0),
            )
        )
    return found


def saturated(study: "ReadingStudy") -> "NDArray[np.bool_]":
    """At which temperatures of the budget the units' readings stop at an end of the table."""
    table, confirmed = study.table, study.confirmed
    codes = np.array([table.window.low_code + 1, table.window.high_code - 1])
    ends_c = np.asarray(readings(table, codes), float) / table.scale
    low_c = confirmed.temperatures_c + confirmed.low_k
    high_c = confirmed.temperatures_c + confirmed.high_k
    return (low_c <= ends_c.min() + SAME_K) | (high_c >= ends_c.max() - SAME_K)


def alternatives(study: "ReadingStudy") -> list["ReadingTable"]:
    """The smallest table of each other kind that is no worse than the chosen one."""
    best: dict[str, ReadingTable] = {}
    for table in study.tables:
        good = table.error_k <= max(study.table.error_k, study.wanted.error_k or 0.0)
        if good and table.kind != study.table.kind:
            smallest = best.get(table.kind)
            if smallest is None or table.bytes < smallest.bytes:
                best[table.kind] = table
    return sorted(best.values(), key=lambda table: table.bytes)


def hint(study: "ReadingStudy") -> str:
    """Whether another divider resistor would read finer or truer over the range of interest."""
    present, best = study.present, study.candidates[0]
    low_c, high_c = study.interest_c
    where = f"from {low_c:g} to {high_c:g} degC"
    if best.refused is not None:
        return f"no resistor leaves room for fault windows and tolerances {where}"
    step = (
        f"{figures(present.worst_k_per_code, 2)} K per code,"
        f" {figures(present.worst_error_k, 2)} K off at worst {where}"
    )
    name = ohm_words(present.resistor_ohm)
    if present.refused is not None:
        return f"{name} is not to be used: {present.refused}; {_offer(best)} leaves room"
    finer, truer = study.best_by_resolution, study.best_by_error
    if finer is not None and present.worst_k_per_code > CLOSE_ENOUGH * finer.worst_k_per_code:
        words = f"{name}: {step}; {_offer(finer)} would be finer"
        if finer.worst_error_k > CLOSE_ENOUGH * present.worst_error_k:
            words += " but err more"
    else:
        words, finer = f"{name}: {step}, about as fine as any can be", None
    if truer is None or present.worst_error_k <= CLOSE_ENOUGH * truer.worst_error_k:
        return words
    if finer is not None and truer.resistor_ohm == finer.resistor_ohm:
        return f"{words} and err least"
    coarser = truer.worst_k_per_code > CLOSE_ENOUGH * present.worst_k_per_code
    return f"{words}; {_offer(truer)} would err least{' but be coarser' if coarser else ''}"


def verdict(study: "ReadingStudy") -> str:
    """The whole in two or three sentences."""
    low_c, high_c = study.range_c
    table = study.table
    words = (
        f"Reads {_band(*study.at_worst_k)} off at worst from {low_c:g} to {high_c:g} degC;"
        f" the table's share is {figures(table.error_k, 2)} K, in {table.bytes} bytes."
    )
    limit = study.threshold
    if limit is not None:
        words += (
            f" Too hot at {limit.celsius:g} degC: code {limit.direction} {limit.code},"
            f" or {open_words(limit)}; {trip_words(limit)}."
        )
    return f"{words} This holds for {situation_words(study.situation)}."


def _offer(one: "Candidate") -> str:
    return (
        f"{ohm_words(one.resistor_ohm)} ({figures(one.worst_k_per_code, 2)} K per code,"
        f" {figures(one.worst_error_k, 2)} K off at worst, {one.open_margin_codes} codes to open,"
        f" {one.short_margin_codes} to short)"
    )


def _band(low_k: float, high_k: float) -> str:
    return f"{low_k:+.1f} to {high_k:+.1f} K"


def _rows_at(grid_c: "np.ndarray") -> list[int]:
    """Rows nearest to the round temperatures inside the grid, each once, and both ends' rows."""
    inside = [celsius for celsius in SHOWN_C if grid_c[0] <= celsius <= grid_c[-1]]
    return sorted({int(np.argmin(np.abs(grid_c - celsius))) for celsius in inside})
