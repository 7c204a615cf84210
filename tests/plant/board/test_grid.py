"""Lines between cells: on every edge, narrow there, nowhere wider than asked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.plant.board.grid import CLOSEST, GROWTH, Edge, lines_along

ROUNDING = 1e-12
ENDS = (-0.01, 0.09)
EDGES = st.lists(st.builds(Edge, st.floats(-0.01, 0.09), st.floats(2e-4, 1e-3)), max_size=12)
SLACK = 1.01
"""Cells are counted up to a whole number, so they come out narrower, never wider, but for the
thousandth that rounding may not cost another cell."""


@given(EDGES, st.floats(2e-4, 5e-3))
def test_lines_run_on_every_edge_they_can(edges, widest_m):
    """Lines rise from end to end, and each edge has one on it or nearly on it."""
    lines = lines_along(ENDS, widest_m, edges)
    assert (lines[0], lines[-1]) == ENDS
    assert (np.diff(lines) > 0).all()
    for edge in edges:
        near_m = CLOSEST * min(widest_m, max(each.cell_m for each in edges))
        assert np.abs(lines - edge.at_m).min() <= near_m + ROUNDING


@given(EDGES, st.floats(2e-4, 5e-3))
def test_cells_are_as_narrow_as_asked(edges, widest_m):
    """No cell is wider than the widest, nor wider than what its nearest edge lets it grow to."""
    lines = lines_along(ENDS, widest_m, edges)
    width, high = np.diff(lines), lines[1:]
    assert width.max() <= widest_m * SLACK
    for edge in edges:
        farthest_m = np.maximum(np.abs(lines[:-1] - edge.at_m), np.abs(high - edge.at_m))
        assert (width <= SLACK * (edge.cell_m + GROWTH * farthest_m)).all()


def test_an_even_grid_where_nothing_is():
    """Without edges the cells are equal."""
    assert np.diff(lines_along((0.0, 0.1), 1e-3, [])) == pytest.approx(1e-3, rel=1e-9)
