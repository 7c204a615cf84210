"""Hole: a round hole through the board, and what of the board it takes away."""

import itertools
import math
from collections.abc import Sequence

from pydantic import Field

from derate.lamp.outline import (
    SAME_M,
    Length,
    Point,
    Position,
    area_m2,
    edges,
    inside_polygon,
    mm,
    to_segment_m,
)
from derate.lamp.part import Part
from derate.lamp.sentence import wrong

MOST_HOLES = 300
CORNERS_OF_A_CIRCLE = 96
"""A circle is a polygon of as many corners and of the same area."""


class Hole(Part):
    """A round hole through the whole board; one that reaches beyond its edge is a notch."""

    at: Position = Field(description='a position such as ["5 mm", "5 mm"]')
    diameter_m: Length


def circle_m(x_m: float, y_m: float, diameter_m: float) -> tuple[Point, ...]:
    """Corners of a polygon, counterclockwise, that stands for a circle and has its area [m]."""
    step = 2 * math.pi / CORNERS_OF_A_CIRCLE
    radius_m = diameter_m / 2 * math.sqrt(step / math.sin(step))
    turns = (step * (corner + 0.5) for corner in range(CORNERS_OF_A_CIRCLE))
    return tuple((x_m + radius_m * math.cos(t), y_m + radius_m * math.sin(t)) for t in turns)


def opening_m(hole: Hole, rim_m: Sequence[Point]) -> tuple[Point, ...]:
    """Corners of the polygon that a hole takes out of a board of the rim ``rim_m``; none beside it.

    The rim is cut along each side of the hole in turn (Sutherland and Hodgman, 1974); what the
    cuts of a hollow rim leave along a side encloses no area.
    """
    circle = circle_m(*hole.at, hole.diameter_m)
    reach_m = math.dist(hole.at, circle[0])
    if all(to_segment_m(hole.at, *edge) >= reach_m for edge in edges(rim_m)):
        return circle if bool(inside_polygon(*hole.at, rim_m)) else ()
    kept = list(rim_m)
    for start, end in edges(circle):
        kept = _left_of(kept, start, end)
    return tuple(kept) if abs(area_m2(kept)) > SAME_M * hole.diameter_m else ()


def _left_of(corners_m: list[Point], start: Point, end: Point) -> list[Point]:
    """What of a polygon lies left of the line from ``start`` to ``end``."""

    def side(point: Point) -> float:
        return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (
            point[0] - start[0]
        )

    kept: list[Point] = []
    for one, other in edges(corners_m) if corners_m else ():
        before, after = side(one), side(other)
        if before >= 0:
            kept.append(one)
        if (before < 0 < after) or (after < 0 < before):
            share = before / (before - after)
            kept.append(
                (one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1]))
            )
    return kept


def check_holes(
    holes: Sequence[Hole], rim_m: Sequence[Point], smaller_m: float, where: str
) -> None:
    """Raises the first hole that takes nothing of the board, too much of it, or what is gone.

    ``smaller_m``: the smaller extent of the board; ``where``: how its positions count, in words.
    """
    if len(holes) > MOST_HOLES:
        raise wrong(f"at most {MOST_HOLES} holes", found=f"{len(holes)}", key=("holes",))
    for index, hole in enumerate(holes):
        if hole.diameter_m >= smaller_m:
            due = f"less than the board's smaller extent, {mm(smaller_m)}"
            raise wrong(due, key=("holes", index, "diameter"))
        if not opening_m(hole, rim_m):
            raise wrong(f"a position where it cuts the board; {where}", key=("holes", index, "at"))
    for (first, one), (second, other) in itertools.combinations(enumerate(holes), 2):
        reach_m = (one.diameter_m + other.diameter_m) / 2
        if math.dist(one.at, other.at) < reach_m - SAME_M:
            due = f"a position at least {mm(reach_m)} from that of entry {first + 1}, clear of it"
            raise wrong(due, key=("holes", second, "at"))
