"""The plane of the board: what lies inside, what overlaps, what a hole takes away."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.lamp.board import Board
from derate.lamp.outline import (
    SAME_M,
    area_m2,
    crosses_itself,
    distance_m,
    edges,
    inside_polygon,
    overlap_m2,
    rectangles_overlap,
)

ROUNDING = 1e-12
"""Relative: areas are short sums of products in double precision."""
LAYERS = {
    "copper": {"thickness_m": 35e-6},
    "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
}
L_SHAPE = ((0.0, 0.0), (0.06, 0.0), (0.06, 0.02), (0.03, 0.02), (0.03, 0.04), (0.0, 0.04))
U_SHAPE = ((0, 0), (6, 0), (6, 4), (4, 4), (4, 1), (2, 1), (2, 4), (0, 4))

coordinates = st.floats(-1, 1)
lengths = st.floats(0.01, 1)


@st.composite
def stars(draw):
    """Polygons whose corners go round the origin at different distances: they never cross."""
    radii = draw(st.lists(st.floats(0.05, 1), min_size=3, max_size=12))
    turns = 2 * math.pi * np.arange(len(radii)) / len(radii)
    return [(r * math.cos(t), r * math.sin(t)) for r, t in zip(radii, turns, strict=True)]


@given(stars())
def test_a_star_does_not_cross_itself_and_a_swapped_one_does(star):
    """Two corners swapped across a polygon of four or more make its edges cross."""
    assert not crosses_itself(star)
    assert not crosses_itself(star[::-1])
    if len(star) == 4:
        assert crosses_itself([star[0], star[2], star[1], star[3]])


def test_an_edge_that_touches_another_counts_as_crossing():
    """A corner on a far edge, or an edge along another, encloses nothing definite."""
    assert crosses_itself([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)])
    assert crosses_itself([(0, 0), (4, 0), (4, 2), (3, 0), (1, 0), (0, 2)])


@given(coordinates, coordinates, lengths, lengths, coordinates, coordinates, lengths, lengths)
def test_two_rectangles_share_the_product_of_what_their_sides_share(x, y, a, b, u, v, c, d):
    """The overlap of rectangles in closed form, and whether there is any."""
    sides = [
        min(p + m / 2, q + n / 2) - max(p - m / 2, q - n / 2)
        for p, m, q, n in ((x, a, u, c), (y, b, v, d))
    ]
    expected = max(sides[0], 0) * max(sides[1], 0)
    corners = [(x + i * a / 2, y + j * b / 2) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    assert overlap_m2(corners, (u, v), (c, d)) == pytest.approx(expected, abs=ROUNDING)
    if min(abs(side) for side in sides) > 2 * SAME_M:
        assert rectangles_overlap((x, y), (a, b), (u, v), (c, d)) == (min(sides) > 0)


@given(stars(), st.integers(1, 7), st.integers(1, 7))
def test_the_parts_of_a_polygon_add_up(star, columns, rows):
    """Tiles that cover the plane around a polygon share its whole area, whichever way it runs."""
    width, height = 2.2 / columns, 2.2 / rows
    centres = [
        (-1.1 + (i + 0.5) * width, -1.1 + (j + 0.5) * height)
        for i in range(columns)
        for j in range(rows)
    ]
    for corners in (star, star[::-1]):
        total = sum(overlap_m2(corners, centre, (width, height)) for centre in centres)
        assert total == pytest.approx(abs(area_m2(corners)), abs=ROUNDING)
    assert area_m2(star) == pytest.approx(-area_m2(star[::-1]), abs=ROUNDING)


def test_a_concave_outline_is_cut_right():
    """Across both arms of a U a rectangle shares what lies in the arms, not the gap between."""
    assert overlap_m2(U_SHAPE, (3, 3), (6, 1)) == pytest.approx(4.0, rel=ROUNDING)
    assert overlap_m2(U_SHAPE, (3, 0.5), (4, 2)) == pytest.approx(5.0, rel=ROUNDING)
    assert overlap_m2(U_SHAPE, (9, 9), (1, 1)) == 0.0


@given(stars(), coordinates, coordinates)
def test_inside_is_what_the_winding_says(star, x, y):
    """The ray's count agrees with the angle under which the outline is seen from a point."""
    turns = 0.0
    for (x0, y0), (x1, y1) in edges(star):
        if math.hypot(x1 - x0, y1 - y0) * SAME_M > abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)):
            return  # on the line of an edge either answer is right
        turn = math.atan2(y1 - y, x1 - x) - math.atan2(y0 - y, x0 - x)
        turns += (turn + math.pi) % (2 * math.pi) - math.pi
    assert bool(inside_polygon(x, y, star)) == (abs(turns) > math.pi)


def test_distance_to_a_rectangle():
    """Nothing within, the straight way beside a side, the slanted one beyond a corner."""
    assert distance_m((0.1, -0.2), (0, 0), (1, 1)) == 0.0
    assert distance_m((0.0, 2.0), (0, 0), (1, 1)) == 1.5
    assert distance_m((3.5, 4.5), (0, 0), (1, 1)) == 5.0


SHAPES = {
    "rectangle": {"size_m": (0.06, 0.04)},
    "disc": {"diameter_m": 0.04},
    "L": {"outline_m": L_SHAPE},
    "L the other way": {"outline_m": L_SHAPE[::-1]},
}
HELD = {
    "rectangle": (((0.03, 0.02), (0.06, 0.04)), ((0.03, 0.021), (0.06, 0.04))),
    "disc": (((0.0, 0.0), (0.024, 0.032)), ((0.0, 0.0), (0.025, 0.032))),
    "L": (((0.045, 0.01), (0.03, 0.02)), ((0.031, 0.021), (0.01, 0.004))),
    "L the other way": (((0.045, 0.01), (0.03, 0.02)), ((0.031, 0.021), (0.01, 0.004))),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_pad_may_reach_the_edge_but_not_beyond(shape):
    """A rectangle flush with the outline is held; a little farther or round a corner it is not."""
    board = Board(**SHAPES[shape], **LAYERS)
    within, beyond = HELD[shape]
    assert board.holds(*within)
    assert not board.holds(*beyond)


def test_bounds_hold_the_whole_board():
    """The rectangle around a board; a round one has the origin in its centre."""
    assert Board(**SHAPES["rectangle"], **LAYERS).bounds_m == (0.0, 0.0, 0.06, 0.04)
    assert Board(**SHAPES["disc"], **LAYERS).bounds_m == (-0.02, -0.02, 0.02, 0.02)
    moved = [(x + 0.01, y - 0.01) for x, y in L_SHAPE]
    bounds = Board(outline_m=moved, **LAYERS).bounds_m
    assert bounds == pytest.approx((0.01, -0.01, 0.07, 0.03), abs=SAME_M)


@pytest.mark.parametrize("shape", SHAPES)
def test_holes_are_no_board(shape):
    """Points of a grid are on the board as often as its area says, without those in the hole."""
    hole = {"at": (0.01, 0.01), "diameter_m": 0.006}
    board = Board(**SHAPES[shape], **LAYERS, holes=[hole])
    step_m = 0.1e-3
    x, y = np.meshgrid(*(np.arange(-0.0217, 0.065, step_m),) * 2)
    disc_m2 = math.pi * 0.02**2
    area = abs(area_m2(board.corners_m)) if board.corners_m else disc_m2
    found = board.inside(x, y).sum() * step_m**2
    coarse = 2e-3  # of the area: the points along the outline, of which half are miscounted
    assert found == pytest.approx(area - math.pi * 0.003**2, rel=coarse)
    assert not board.inside(0.01, 0.012)
    assert board.inside(0.01, 0.0135)
