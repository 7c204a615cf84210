"""Areas of shapes in cells: exact wherever the lines of the grid run."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.plant.board.shapes import (
    Rectangle,
    boundary_length,
    circle_corners,
    distance_m,
    polygon_area,
    rectangle_corners,
    rectangles_area,
)

ROUNDING = 1e-12
"""Relative: a few dozen operations on areas that are differences of larger ones."""
LINES = st.lists(st.floats(-1.0, 2.0), min_size=3, max_size=12, unique=True).map(
    lambda lines: np.sort(np.array(lines))
)
L_SHAPE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.4), (0.5, 0.4), (0.5, 1.0), (0.0, 1.0)])
TURNED = np.array([(0.5, -0.2), (1.2, 0.5), (0.5, 1.2), (-0.2, 0.5)])
SHAPES = {"L": L_SHAPE, "turned": TURNED, "circle": circle_corners(0.5, 0.5, 0.8)}


def shoelace(corners):
    """Area of a polygon from its corners."""
    x, y = corners.T
    return 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def cut(corners, axis, at, keep):
    """A convex polygon less what lies beyond a line, by walking round it."""
    found = []
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inside = [keep * (point[axis] - at) >= 0 for point in (one, other)]
        if inside[0]:
            found.append(one)
        if inside[0] != inside[1]:
            share = (at - one[axis]) / (other[axis] - one[axis])
            found.append(one + share * (other - one))
    return np.array(found).reshape(-1, 2)


@given(LINES, LINES, st.sampled_from(["turned", "circle"]))
def test_area_in_each_cell_is_that_of_the_polygon_cut_to_it(x, y, name):
    """Every cell's area is what remains when the polygon is cut along the cell's four sides."""
    found = polygon_area(SHAPES[name], x, y)
    for i, j in np.ndindex(found.shape):
        part = SHAPES[name]
        for axis, low, high in ((0, x[i], x[i + 1]), (1, y[j], y[j + 1])):
            for at, keep in ((low, 1), (high, -1)):
                part = cut(part, axis, at, keep) if len(part) else part
        expected = shoelace(part) if len(part) else 0.0
        assert found[i, j] == pytest.approx(expected, abs=ROUNDING)


@given(LINES, LINES, st.sampled_from(list(SHAPES)))
def test_cells_share_the_whole(x, y, name):
    """However a grid that reaches around the shape is cut, its cells hold the shape's area."""
    x, y = (np.union1d(lines, (-1.5, 2.5)) for lines in (x, y))
    area = polygon_area(SHAPES[name], x, y)
    assert area.min() >= 0.0
    assert area.sum() == pytest.approx(shoelace(SHAPES[name]), rel=1e3 * ROUNDING)


def test_a_circle_keeps_its_area():
    """The polygon that stands for a circle has the circle's area."""
    assert shoelace(circle_corners(0.3, -0.2, 0.8)) == pytest.approx(math.pi * 0.16, rel=ROUNDING)


RECTANGLES = st.builds(
    Rectangle, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.05, 0.8), st.floats(0.05, 0.8)
)


@given(LINES, LINES, RECTANGLES, RECTANGLES)
def test_overlapping_rectangles_count_once(x, y, one, other):
    """Two rectangles cover the sum of their areas less that of their common part, cell by cell."""
    ends = [
        (max(a[0], b[0]), min(a[1], b[1]))
        for a, b in ((one.across_m, other.across_m), (one.upwards_m, other.upwards_m))
    ]
    both = []
    if all(high > low for low, high in ends):
        middle = [(low + high) / 2 for low, high in ends]
        both = [Rectangle(*middle, *(high - low for low, high in ends))]
    expected = rectangles_area([one], x, y) + rectangles_area([other], x, y)
    expected -= rectangles_area(both, x, y)
    assert rectangles_area([one, other], x, y) == pytest.approx(expected, abs=1e3 * ROUNDING)


@given(LINES, LINES, RECTANGLES)
def test_a_rectangle_is_a_polygon(x, y, part):
    """A rectangle and the polygon of its corners cover the same."""
    corners = rectangle_corners(part.width_m, part.height_m)
    corners += (part.across_m[0], part.upwards_m[0])
    expected = polygon_area(corners, x, y)
    assert rectangles_area([part], x, y) == pytest.approx(expected, abs=1e3 * ROUNDING)


@given(LINES, LINES, st.sampled_from(list(SHAPES)))
def test_the_boundary_is_shared_out_whole(x, y, name):
    """The lengths of the boundary in all cells of a grid around the shape add up to it."""
    x, y = (np.union1d(lines, (-1.5, 2.5)) for lines in (x, y))
    corners = SHAPES[name]
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert boundary_length(corners, x, y).sum() == pytest.approx(sides.sum(), rel=1e3 * ROUNDING)


def test_distance_from_a_boundary():
    """Inside and outside a square, beside a side and beyond a corner."""
    x, y = np.array([0.5, 0.5, 2.0, 4.0]), np.array([0.5, 0.1, 0.5, 5.0])
    found = distance_m(rectangle_corners(1.0, 1.0), x, y)
    assert found == pytest.approx([0.5, 0.1, 1.0, 5.0], rel=ROUNDING)
