"""Values at uniform steps of the code: found whenever there are any, and in the corridor."""

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.code_steps import edge_values, least_error
from derate.sensing.corridor import about
from tests.sensing.walls import between

BEYOND = 60
"""The edge after the last code may lie that many counts from the curve's last value."""
MILLI = 1e-3
"""Bisection ends within a thousandth of a count here."""


def holds(walls, shift, i, value, goal):
    """Whether the codes of cell ``i`` between two edge values are in the corridor."""
    start, end = i << shift, (i + 1) << shift
    indices = range(start, min(end, len(walls.low) - 1) + 1)
    found = [between((start, value), (end, goal), k) for k in indices]
    return all(walls.low[k] <= x <= walls.high[k] for k, x in zip(indices, found, strict=True))


def some_chain(walls, shift):
    """Whether any chain of edge values stays in the corridor, by trying all of them."""
    last, sign = len(walls.low) - 1, -1 if walls.falling else 1
    cells = max(1, -(-last >> shift))
    values = set(range(walls.low[0], walls.high[0] + 1))
    for i in range(cells):
        ahead = min((i + 1) << shift, last)
        goals = range(walls.low[ahead] - BEYOND, walls.high[ahead] + BEYOND + 1)
        values = {
            goal
            for goal in goals
            if any(sign * (goal - v) >= 0 and holds(walls, shift, i, v, goal) for v in values)
        }
    return bool(values)


@given(
    steps=st.lists(st.floats(0.0, 6.0), min_size=1, max_size=10),
    shift=st.integers(1, 3),
    tolerance=st.floats(0.6, 3.0),
    sign=st.sampled_from([-1.0, 1.0]),
)
def test_values_are_found_when_there_are_any(steps, shift, tolerance, sign):
    """None exactly when trying every chain finds none; else every code is in the corridor."""
    curve = sign * np.cumsum([0.3, *steps])
    walls = about(curve, tolerance)._replace(falling=sign < 0.0)
    values = edge_values(curve, shift, tolerance) if curve[-1] != curve[0] else None
    if curve[-1] != curve[0]:
        assert (values is not None) == some_chain(walls, shift)
    if values is not None:
        chain = values.tolist()
        for i, (value, goal) in enumerate(itertools.pairwise(chain)):
            assert holds(walls, shift, i, value, goal)


def test_the_least_error_is_the_least():
    """Just below the least tolerance there is no table."""
    curve = 300.0 * np.sqrt(np.arange(1.0, 400.0))
    values = least_error(curve, 4)
    points = np.arange(len(curve))
    i = points >> 4
    rounded = [
        between((int(n) << 4, int(values[n])), ((int(n) + 1) << 4, int(values[n + 1])), int(k))
        for n, k in zip(np.minimum(i, len(values) - 2), points, strict=True)
    ]
    worst = float(np.max(np.abs(np.array(rounded) - curve)))
    assert edge_values(curve, 4, worst + MILLI) is not None
    assert edge_values(curve, 4, 0.97 * worst) is None
