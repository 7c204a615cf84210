"""Corridors for property tests, and the firmware's arithmetic in plain whole numbers."""

import numpy as np
from hypothesis import strategies as st

from derate.sensing.corridor import Corridor, about


def between(start, end, k):
    """Reading at index k on the segment between two corners, as the firmware has it."""
    (at, value), (until, goal) = start, end
    span = until - at
    return value + (2 * (goal - value) * (k - at) + span) // (2 * span)


def follows(walls, start, end):
    """Whether every reading between two corners is in the corridor, both corners included."""
    indices = range(start[0], end[0] + 1)
    return all(walls.low[k] <= between(start, end, k) <= walls.high[k] for k in indices)


@st.composite
def corridors(draw, most=12):
    """Corridors about short monotone curves of either direction."""
    steps = draw(st.lists(st.floats(0.0, 6.0), min_size=1, max_size=most - 1))
    tolerance = draw(st.floats(0.6, 3.0))
    sign = draw(st.sampled_from([-1.0, 1.0]))
    walls = about(sign * np.cumsum([0.3, *steps]), tolerance)
    return Corridor(walls.low, walls.high, sign < 0.0)
