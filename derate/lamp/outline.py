"""Where things lie on the plane of a board: positions, rectangles and outlines, in metres."""

import itertools
import math
from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import BeforeValidator

from derate.lamp.quantities import Metre, check
from derate.lamp.sentence import wrong

SAME_M = 1e-9
"""Lengths that differ by less are the same; written decimals are off by their rounding only."""


def _count(number: int, due: str) -> BeforeValidator:
    def hold(value: Any) -> Any:
        if not isinstance(value, list | tuple) or len(value) != number:
            raise wrong(due)
        return value

    return BeforeValidator(hold)


Point = tuple[float, float]
Length = Annotated[Metre, check(lambda length_m: length_m >= 1e-6, "a length of at least 1 um")]
Thickness = Annotated[
    Metre, check(lambda thick_m: 1e-7 <= thick_m <= 0.05, "a thickness from 0.1 um to 50 mm")
]
Position = Annotated[tuple[Metre, Metre], _count(2, 'a position such as ["20 mm", "15 mm"]')]
Size = Annotated[tuple[Length, Length], _count(2, 'two lengths such as ["60 mm", "40 mm"]')]
Room = Annotated[
    tuple[Length, Length, Length], _count(3, 'three lengths such as ["60 mm", "40 mm", "90 mm"]')
]


def inside_polygon(x_m: ArrayLike, y_m: ArrayLike, corners_m: Sequence[Point]) -> NDArray[np.bool_]:
    """Whether points lie inside a polygon: a ray from there crosses an odd number of edges.

    A point on an edge may count either way.
    """
    x, y = np.broadcast_arrays(np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float))
    inside = np.zeros(x.shape, dtype=bool)
    for (x0, y0), (x1, y1) in edges(corners_m):
        if y0 != y1:
            crossing = (y0 > y) != (y1 > y)
            inside ^= crossing & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
    return inside


def edges(corners_m: Sequence[Point]) -> list[tuple[Point, Point]]:
    """The edges of a closed polygon."""
    return list(zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True))


def area_m2(corners_m: Sequence[Point]) -> float:
    """Area of a polygon, positive where it runs counterclockwise [m^2]."""
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in edges(corners_m)) / 2 if corners_m else 0


def overlap_m2(corners_m: Sequence[Point], centre_m: Point, size_m: Point) -> float:
    """Area that a polygon and a rectangle share [m^2].

    The polygon is cut along each side of the rectangle in turn (Sutherland and Hodgman, 1974);
    what the cuts leave along a side encloses no area.
    """
    kept = list(corners_m)
    for axis, side in itertools.product((0, 1), (-1, 1)):
        limit = centre_m[axis] + side * size_m[axis] / 2
        kept = _cut(kept, axis, side, limit)
    return abs(area_m2(kept))


def _cut(corners_m: list[Point], axis: int, side: int, limit: float) -> list[Point]:
    """What of a polygon lies below (side 1) or above (side -1) a limit along an axis."""
    kept: list[Point] = []
    for start, end in edges(corners_m) if corners_m else ():
        before, after = side * (start[axis] - limit), side * (end[axis] - limit)
        if before <= 0:
            kept.append(start)
        if (before < 0 < after) or (after < 0 < before):
            share = before / (before - after)
            x, y = (start[i] + share * (end[i] - start[i]) for i in (0, 1))
            kept.append((x, y))
    return kept


def crosses_itself(corners_m: Sequence[Point]) -> bool:
    """Whether two edges of a polygon meet anywhere but in the corner between them."""
    listed = edges(corners_m)
    for i, one in enumerate(listed):
        for j in range(i + 1, len(listed)):
            neighbours = j == i + 1 or (i == 0 and j == len(listed) - 1)
            if not neighbours and _meet(*one, *listed[j]):
                return True
    return False


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the segments from a to b and from c to d share a point."""

    def turn(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    def within(p: Point, q: Point, r: Point) -> bool:
        return all(min(p[i], q[i]) <= r[i] <= max(p[i], q[i]) for i in (0, 1))

    one, other = (turn(a, b, c), turn(a, b, d)), (turn(c, d, a), turn(c, d, b))
    if one[0] * one[1] < 0 and other[0] * other[1] < 0:
        return True
    touching = ((one[0], a, b, c), (one[1], a, b, d), (other[0], c, d, a), (other[1], c, d, b))
    return any(bend == 0 and within(p, q, r) for bend, p, q, r in touching)


def rectangles_overlap(
    one_m: Point, one_size_m: Point, other_m: Point, other_size_m: Point
) -> bool:
    """Whether two rectangles share more than an edge; each by its centre and size."""
    return all(
        abs(one_m[i] - other_m[i]) < (one_size_m[i] + other_size_m[i]) / 2 - SAME_M for i in (0, 1)
    )


def distance_m(point_m: Point, centre_m: Point, size_m: Point) -> float:
    """Distance of a point to a rectangle, 0 within it [m]."""
    return math.hypot(*(max(0.0, abs(point_m[i] - centre_m[i]) - size_m[i] / 2) for i in (0, 1)))


def to_segment_m(point_m: Point, start_m: Point, end_m: Point) -> float:
    """Distance of a point to a straight piece of a line [m]."""
    way = (end_m[0] - start_m[0], end_m[1] - start_m[1])
    from_start = (point_m[0] - start_m[0], point_m[1] - start_m[1])
    share = (from_start[0] * way[0] + from_start[1] * way[1]) / (math.hypot(*way) ** 2 or 1.0)
    share = min(max(share, 0.0), 1.0)
    return math.hypot(from_start[0] - share * way[0], from_start[1] - share * way[1])


def mm(length_m: float) -> str:
    """A length as a sentence tells it, "1.5 mm"."""
    return f"{length_m * 1e3:.6g} mm"
