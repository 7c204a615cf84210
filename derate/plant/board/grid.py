"""The lines between the cells of a board.

Lines run along the edges of pads and footprints, so that these are made of whole cells wherever
they lie. There heat turns and cells are narrow; away from edges they grow up to the widest.
"""

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Span = tuple[float, float]

GROWTH = 0.5
"""Cells widen by this much per metre of distance from an edge [-]."""
CLOSEST = 0.2
"""Of two edges nearer than this share of the cells there [-] only the first gets a line."""
SAMPLES = 8001
"""Points at which the width of cells is laid down along an axis."""


class Edge(NamedTuple):
    """An edge of a pad or footprint across an axis: where it lies, and how wide cells are there."""

    at_m: float
    cell_m: float


@dataclass(frozen=True, eq=False)
class Grid:
    """Lines between the cells: ``x_m`` (columns + 1), ``y_m`` (rows + 1), rising [m]."""

    x_m: Array
    y_m: Array

    @property
    def cell_m2(self) -> Array:
        """Area of each cell [m^2]."""
        return np.outer(np.diff(self.x_m), np.diff(self.y_m))


def middles(lines: Array) -> Array:
    """The middles between lines."""
    return 0.5 * (lines[1:] + lines[:-1])


def lines_along(ends_m: Span, widest_m: float, edges: Iterable[Edge]) -> Array:
    """The lines along one axis from end to end, one of them on each edge."""
    edges = sorted(edges)
    place = np.linspace(*ends_m, SAMPLES)
    width = np.full(SAMPLES, widest_m)
    for edge in edges:
        width = np.minimum(width, edge.cell_m + GROWTH * np.abs(place - edge.at_m))
    marks = [ends_m[0]]
    for edge in edges:
        nearest_m = CLOSEST * min(edge.cell_m, widest_m)
        if edge.at_m - marks[-1] > nearest_m and ends_m[1] - edge.at_m > nearest_m:
            marks.append(edge.at_m)
    marks.append(ends_m[1])
    count = np.concatenate(([0.0], np.cumsum(middles(1.0 / width) * np.diff(place))))
    lines = [ends_m[0]]
    for start, end in itertools.pairwise(marks):
        first, last = np.interp((start, end), place, count)
        cells = max(1, math.ceil(last - first - 1e-3))
        lines += list(np.interp(np.linspace(first, last, cells + 1)[1:-1], count, place))
        lines.append(end)
    return np.array(lines)
