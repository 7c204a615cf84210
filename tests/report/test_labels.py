"""Labels: none covers another, none strays without need."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.report.labels import rows_for, spread

GAP, LOW, HIGH = 10.0, 0.0, 100.0
ROUNDING = 1e-9
"""Sums of a dozen numbers up to 100 in double precision."""
FEW = st.lists(st.floats(-50.0, 150.0), min_size=1, max_size=11)


@given(FEW)
def test_labels_keep_apart_and_inside(wanted):
    """With room for all, labels are a gap apart, inside the panel, in the order wanted."""
    placed = spread(wanted, GAP, LOW, HIGH)
    in_order = [at for _, at in sorted(zip(wanted, placed, strict=True))]
    assert all(b - a >= GAP - ROUNDING for a, b in itertools.pairwise(in_order))
    assert min(placed) >= LOW - ROUNDING
    assert max(placed) <= HIGH + ROUNDING


def test_labels_with_room_stay_where_they_are():
    """Labels that do not touch are not moved."""
    assert spread([80.0, 20.0, 50.0], GAP, LOW, HIGH) == pytest.approx([80.0, 20.0, 50.0])


def test_a_pair_that_touches_parts_evenly():
    """Two labels wanted at one height move apart by half a gap each."""
    assert spread([50.0, 50.0], GAP, LOW, HIGH) == pytest.approx([45.0, 55.0])


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=20).map(sorted))
def test_event_labels_of_a_row_do_not_touch(starts):
    """In each row a label begins where the one before has ended, or it is left out."""
    widths = [12.0] * len(starts)
    taken = {}
    for start, place in zip(starts, rows_for(starts, widths, 3, 100.0), strict=True):
        if place is not None:
            row, leftward = place
            begin = start - 12.0 if leftward else start
            assert begin >= taken.get(row, float("-inf"))
            assert begin + 12.0 <= 100.0 or leftward
            taken[row] = begin + 12.0
