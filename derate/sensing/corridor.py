"""The whole-number corridor that a reading table must stay in, and the straight lines in it.

At code index k the reading may be any whole number from low[k] to high[k]. The firmware rounds a
straight line to the nearest whole number, halves up, so a line is within the corridor when

    low[k] - 1/2 <= line(k) < high[k] + 1/2

This holds exactly: rounding is not an error to be added but part of the condition. Slopes are
kept as fractions p / 2q of whole numbers and compared by cross products, without rounding.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled

Whole = NDArray[np.int64]

PRODUCT_LIMIT = 2**31 - 1
"""Twice rise times run, plus run, stays below this in every segment, so that 32 bits do."""
RISE_LIMIT = 32766
"""Neighbouring values are at most that far apart, so that their difference fits 16 bits."""
SLACK = 1e-9
"""Counts kept free, against rounding of the floating-point curve."""
STEEP = 1 << 40
"""A slope steeper than any; its products with indices and values fit 64 bits."""


class Corridor(NamedTuple):
    """Least and greatest reading [counts] at each code index; ``falling`` with the code."""

    low: Whole
    high: Whole
    falling: bool


class Cone(NamedTuple):
    """Slopes s of lines from one corner: least / (2 least_run) <= s < most / (2 most_run)."""

    least: int
    least_run: int
    most: int
    most_run: int


def about(curve: NDArray[np.float64], tolerance: float) -> Corridor:
    """The corridor within ``tolerance`` [counts] of a monotone ``curve`` [counts]."""
    low = np.ceil(curve - tolerance + SLACK).astype(np.int64)
    high = np.floor(curve + tolerance - SLACK).astype(np.int64)
    return Corridor(low, high, bool(curve[-1] < curve[0]))


@compiled
def narrowed(cone: Cone, run: int, below: int, above: int) -> Cone:
    """The part of a cone within ``below`` .. ``above`` [counts from its corner] at ``run``."""
    least, least_run, most, most_run = cone
    if (2 * below - 1) * least_run > least * run:
        least, least_run = 2 * below - 1, run
    if (2 * above + 1) * most_run < most * run:
        most, most_run = 2 * above + 1, run
    return Cone(least, least_run, most, most_run)


@compiled
def is_empty(cone: Cone) -> bool:
    """Whether no slope is left."""
    return cone.least * cone.most_run >= cone.most * cone.least_run


@compiled
def whole_rises(cone: Cone, run: int, falling: bool, least_rise: int) -> tuple[int, int]:
    """Least and greatest whole rise over ``run`` codes along slopes of the cone.

    The rise goes the way of the curve by at least ``least_rise`` and keeps within the limits of
    the firmware's arithmetic. The first exceeds the second when there is none.
    """
    limit = min(RISE_LIMIT, (PRODUCT_LIMIT - run) // (2 * run))
    first = -((-cone.least * run) // (2 * cone.least_run))
    last = (cone.most * run - 1) // (2 * cone.most_run)
    if falling:
        return max(first, -limit), min(last, -least_rise)
    return max(first, least_rise), min(last, limit)
