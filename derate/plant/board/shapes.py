"""Areas of shapes in the cells of a rectangular grid, exact for any position of the shapes.

Because every cell carries the exact share of it that a shape covers, nothing the board computes
depends on how pads and outline happen to meet the cells.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.hole import circle_m
from derate.plant.board.grid import middles

Array = NDArray[np.float64]
Point = tuple[float, float]


class Rectangle(NamedTuple):
    """A rectangle parallel to the axes: its middle and its sides [m]."""

    x_m: float
    y_m: float
    width_m: float
    height_m: float

    @property
    def across_m(self) -> tuple[float, float]:
        """Where it starts and ends along x [m]."""
        return self.x_m - self.width_m / 2, self.x_m + self.width_m / 2

    @property
    def narrow_m(self) -> float:
        """The shorter side [m]."""
        return min(self.width_m, self.height_m)

    @property
    def upwards_m(self) -> tuple[float, float]:
        """Where it starts and ends along y [m]."""
        return self.y_m - self.height_m / 2, self.y_m + self.height_m / 2


def rectangle_corners(width_m: float, height_m: float) -> Array:
    """Corners of a rectangle with its lower left one at the origin [m]."""
    return np.array([(0.0, 0.0), (width_m, 0.0), (width_m, height_m), (0.0, height_m)])


def circle_corners(x_m: float, y_m: float, diameter_m: float) -> Array:
    """A polygon that stands for a circle and has its area [m]."""
    return np.array(circle_m(x_m, y_m, diameter_m))


def polygon_area(corners: Array, x_m: Array, y_m: Array) -> Array:
    """Area of a polygon in each cell between the lines ``x_m`` and ``y_m`` [m^2].

    The area below a line y = Y in a column is the integral of min(y, Y) dx once round the polygon,
    as far as it runs within the column; cells are differences of these.
    """
    below = np.zeros((len(x_m) - 1, len(y_m)))
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if x0 == x1:
            continue
        first, last = np.searchsorted(x_m, (min(x0, x1), max(x0, x1)))
        passed = slice(max(first - 1, 0), last)
        start, end = (np.clip(x, x_m[:-1][passed], x_m[1:][passed]) for x in (x0, x1))
        slope = (y1 - y0) / (x1 - x0)
        first_m, last_m = (y0 + slope * (x - x0) for x in (start, end))
        below[passed] += (end - start)[:, None] * _mean_of_least(first_m, last_m, y_m)
    return np.abs(np.diff(below, axis=1))


def _mean_of_least(first: Array, last: Array, limit: Array) -> Array:
    """Mean of min(y, limit) while y runs evenly from ``first`` to ``last``; (first, limit)."""
    low, high = (f(first, last)[:, None] for f in (np.minimum, np.maximum))
    run = np.where(high > low, high - low, 1.0)
    reached = np.clip((limit - low) / run, 0.0, 1.0)
    under = reached * (low + 0.5 * reached * (high - low))
    return np.where(
        limit <= low,
        limit,
        np.where(limit >= high, 0.5 * (low + high), under + (1.0 - reached) * limit),
    )


def rectangles_area(rectangles: list[Rectangle], x_m: Array, y_m: Array) -> Array:
    """Area that rectangles cover together in each cell [m^2]; what overlaps counts once."""
    if not rectangles:
        return np.zeros((len(x_m) - 1, len(y_m) - 1))
    sides = np.array([(*each.across_m, *each.upwards_m) for each in rectangles])
    x, y = np.union1d(sides[:, :2], x_m), np.union1d(sides[:, 2:], y_m)
    across, up = middles(x), middles(y)
    inside = np.zeros((len(across), len(up)), bool)
    for left, right, bottom, top in sides:
        inside |= np.outer((across > left) & (across < right), (up > bottom) & (up < top))
    return _within(x_m, x) @ inside @ _within(y_m, y).T


def _within(lines: Array, fine: Array) -> Array:
    """Length of each fine interval that lies within each interval of ``lines`` (coarse, fine)."""
    at = np.searchsorted(lines, middles(fine), side="right") - 1
    shares = at[None, :] == np.arange(len(lines) - 1)[:, None]
    return shares * np.diff(fine)


def boundary_length(corners: Array, x_m: Array, y_m: Array) -> Array:
    """Length of a polygon's boundary in each cell [m]."""
    length = np.zeros((len(x_m) - 1, len(y_m) - 1))
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = other - one
        cuts = [
            (lines - one[axis]) / way[axis]
            for axis, lines in enumerate((x_m, y_m))
            if way[axis] != 0
        ]
        share = np.unique(np.clip(np.concatenate([*cuts, [0.0, 1.0]]), 0.0, 1.0))
        middle = one + middles(share)[:, None] * way
        cell = [
            np.clip(np.searchsorted(lines, middle[:, axis]) - 1, 0, len(lines) - 2)
            for axis, lines in enumerate((x_m, y_m))
        ]
        np.add.at(length, tuple(cell), np.diff(share) * float(np.hypot(*way)))
    return length


def distance_m(corners: Array, x_m: Array, y_m: Array) -> Array:
    """Distance of positions from a polygon's boundary [m]."""
    nearest = np.full(np.shape(x_m), math.inf)
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = other - one
        along = ((x_m - one[0]) * way[0] + (y_m - one[1]) * way[1]) / (way @ way)
        share = np.clip(along, 0.0, 1.0)
        apart = np.hypot(x_m - one[0] - share * way[0], y_m - one[1] - share * way[1])
        nearest = np.minimum(nearest, apart)
    return nearest
