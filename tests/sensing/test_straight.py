"""How far straight lines reach: against the definition, pair by pair."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.corridor import Corridor
from derate.sensing.straight import reaches


def a_line_meets(low, high):
    """Whether one line meets all intervals: its slope lies between the bounds of every pair.

    low[i] - 1/2 at one code and high[j] + 1/2 at another bound the slope; nothing else does.
    """
    pairs = [(i, j) for j in range(len(low)) for i in range(j)]
    least = max(Fraction(int(low[j] - high[i] - 1), j - i) for i, j in pairs)
    most = min(Fraction(int(high[j] - low[i] + 1), j - i) for i, j in pairs)
    return least <= most


def farthest(low, high, start):
    """The last index that one line from ``start`` on can meet, by trying all."""
    end = start + 1
    while end + 1 < len(low) and a_line_meets(low[start : end + 2], high[start : end + 2]):
        end += 1
    return end


@given(
    middles=st.lists(st.integers(-12, 12), min_size=2, max_size=25),
    data=st.data(),
    gentle=st.booleans(),
)
def test_reaches_are_the_farthest(middles, data, gentle):
    """Each line goes exactly as far as the definition allows, ahead and back, monotone or not."""
    low = np.cumsum(np.abs(middles)) // 4 if gentle else np.array(middles)
    widths = st.lists(st.integers(0, 4), min_size=len(low), max_size=len(low))
    high = low + np.array(data.draw(widths))
    ahead, back = reaches(Corridor(low, high, False))
    last = len(low) - 1
    for here, there in itertools.pairwise(ahead):
        assert there == farthest(low, high, here)
    for here, there in itertools.pairwise(back):
        assert last - there == farthest(low[::-1], high[::-1], last - here)
    assert (ahead[0], ahead[-1], back[0], back[-1]) == (0, last, last, 0)


@pytest.mark.parametrize("count", [2, 3, 1000, 60_000])
def test_a_straight_curve_takes_one_line(count):
    """A line of any length is one segment."""
    low = np.arange(count) // 3
    ahead, back = reaches(Corridor(low, low, False))
    assert len(ahead) == len(back) == 2
