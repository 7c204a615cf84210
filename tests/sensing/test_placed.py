"""The fewest segments: never more than trying everything finds, never out of the corridor."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.sensing import placed
from derate.sensing.corridor import PRODUCT_LIMIT, about
from derate.sensing.placed import fewest_segments
from derate.sensing.straight import reaches
from tests.sensing.walls import corridors, follows


def fewest_by_trying(walls, least_rise):
    """Segments from end to end by breadth-first search over every pair of corners, or None."""
    last, sign = len(walls.low) - 1, -1 if walls.falling else 1
    layer = {(0, v) for v in range(walls.low[0], walls.high[0] + 1)}
    for segments in range(1, last + 1):
        layer = {
            (k, v)
            for at, value in layer
            for k in range(at + 1, last + 1)
            for v in range(walls.low[k], walls.high[k] + 1)
            if sign * (v - value) >= least_rise and follows(walls, (at, value), (k, v))
        }
        if any(k == last for k, _ in layer):
            return segments
    return None


def corners(line):
    """Corners of a placement as pairs."""
    return list(zip(line.at.tolist(), line.value.tolist(), strict=True))


def check_line(walls, line, least_rise):
    """Every reading in the corridor, from the first code to the last, the right way."""
    found, sign = corners(line), -1 if walls.falling else 1
    assert [found[0][0], found[-1][0]] == [0, len(walls.low) - 1]
    for start, end in itertools.pairwise(found):
        assert end[0] > start[0]
        assert sign * (end[1] - start[1]) >= least_rise
        assert follows(walls, start, end)


@given(walls=corridors(9), least_rise=st.integers(0, 1))
@settings(max_examples=200)
def test_no_table_is_smaller(walls, least_rise):
    """As many segments as trying every table gives, and the bound says so."""
    line = fewest_segments(walls, least_rise=least_rise)
    desired = fewest_by_trying(walls, least_rise)
    assert (line is None) == (desired is None)
    if line is not None:
        check_line(walls, line, least_rise)
        assert len(line.at) - 1 == desired == line.lower_bound


@given(walls=corridors(9))
@settings(max_examples=100)
def test_the_search_over_all_corners_agrees(walls):
    """The search that keeps every corner in its first layer finds as few segments."""
    layers = placed._search_whole(walls, reaches(walls)[0], 0)
    line = placed.Placement(*placed._traced(layers), 0)
    check_line(walls, line, 0)
    assert len(line.at) - 1 == fewest_by_trying(walls, 0)


@given(
    steps=st.lists(st.floats(0.01, 300.0), min_size=1, max_size=200),
    tolerance=st.floats(0.6, 50.0),
    falling=st.booleans(),
)
def test_the_line_stays_in_the_corridor(steps, tolerance, falling):
    """For any monotone curve the line holds at every code, with no fewer segments than proved."""
    walls = about(np.cumsum([7.3, *steps]) * (-1 if falling else 1), tolerance)
    line = fewest_segments(walls)
    check_line(walls, line, 0)
    assert len(line.at) - 1 == line.lower_bound


def test_a_gap_is_stated_not_hidden(monkeypatch):
    """Where too little is searched, the line still holds and the bound stays below its size."""
    walls = about(40.0 * np.sqrt(np.arange(3000.0)), 3.0)
    least = fewest_segments(walls)
    monkeypatch.setattr(placed, "COARSE", ((2, 2),))
    monkeypatch.setattr(placed, "QUICK_WORK", 20_000)
    rough = fewest_segments(walls, work_limit=0)
    check_line(walls, rough, 0)
    assert rough.lower_bound <= least.lower_bound == len(least.at) - 1 < len(rough.at) - 1


def test_at_most_so_many_segments():
    """One segment fewer than the least is refused with None."""
    walls = about(40.0 * np.sqrt(np.arange(3000.0)), 3.0)
    least = fewest_segments(walls).lower_bound
    assert fewest_segments(walls, at_most=least - 1) is None
    assert len(fewest_segments(walls, at_most=least).at) - 1 == least


@settings(max_examples=20)
@given(height=st.floats(1e4, 6e4), count=st.integers(20_000, 60_000))
def test_products_stay_in_32_bits(height, count):
    """However long a straight stretch is, the firmware's product fits 32 bits."""
    line = fewest_segments(about(np.linspace(0.0, height, count), 5.0))
    for (at, value), (end, goal) in itertools.pairwise(corners(line)):
        assert 2 * abs(goal - value) * (end - at) + (end - at) <= PRODUCT_LIMIT


def test_a_single_step_needs_one_segment():
    """Two points are one segment, whatever lies between their values."""
    line = fewest_segments(about(np.array([0.0, 1e4]), 1.0))
    assert len(line.at) == 2
    assert abs(line.value[1] - 1e4) <= 1.0
