"""Smooth monotone curves through a data sheet's points, laid out for fast evaluation.

Between the points a curve is the monotone piecewise cubic (PCHIP): it passes through every point,
does not overshoot, and its slope is continuous. Outside the points it goes
on as a straight line. A table has one row per piece, ``START`` rising from -inf; rows with
``START`` = +inf are padding. With d = x - anchor

    y = c0 + c1 d + c2 d^2 + c3 d^3
"""

import numpy as np
from numpy.typing import NDArray

from derate.monotone import slopes
from derate.plant.kernel import kernel

Array = NDArray[np.float64]

START, ANCHOR, C0, C1, C2, C3 = range(6)
"""Columns of a table."""
MOST_HALVINGS = 200
"""A bracket cannot be halved more often than this before it is empty in double precision."""


def table_of(x: Array, y: Array) -> Array:
    """Table of the curve through the points (x, y), x rising, at least two points.

    An end whose slope the cubic leaves at zero goes on with the secant of its outermost piece, so
    that the continuation of a strictly rising curve rises too.
    """
    width, slope = np.diff(x), slopes(x, y)
    secant = np.diff(y) / width
    bend = (slope[:-1] + slope[1:] - 2 * secant) / width
    square = (secant - slope[:-1]) / width - bend
    inner = np.column_stack((x[:-1], x[:-1], y[:-1], slope[:-1], square, bend / width))
    before = (-np.inf, x[0], y[0], slope[0] or secant[0], 0.0, 0.0)
    after = (x[-1], x[-1], y[-1], slope[-1] or secant[-1], 0.0, 0.0)
    return np.array([before, *inner, after])


def padded(table: Array, pieces: int) -> Array:
    """The same table with rows added up to ``pieces``."""
    padding = np.zeros((pieces - len(table), table.shape[1]))
    padding[:, START] = np.inf
    return np.concatenate((table, padding))


@kernel
def piece(table: Array, x: float) -> int:
    """Row of the piece that holds ``x``."""
    i = 0
    while i + 1 < table.shape[0] and x >= table[i + 1, START]:
        i += 1
    return i


@kernel
def value(table: Array, x: float) -> float:
    """The curve at ``x``."""
    row = table[piece(table, x)]
    d = x - row[ANCHOR]
    return ((row[C3] * d + row[C2]) * d + row[C1]) * d + row[C0]


@kernel
def is_last(table: Array, i: int) -> bool:
    """Whether piece ``i`` is the continuation above the last point."""
    return i + 1 == table.shape[0] or table[i + 1, START] == np.inf


@kernel
def within(table: Array, x: float) -> bool:
    """Whether ``x`` lies between the first and the last point, ends included."""
    i = piece(table, x)
    return i > 0 and (not is_last(table, i) or x == table[i, ANCHOR])
