"""Lines between cells: on every edge, narrow there, nowhere wider than asked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.errors import InputError
from derate.plant.board.full import full_board
from derate.plant.board.grid import CLOSEST, GROWTH, Edge, lines_along
from tests.plant.invented import BOARD, PLACED, SOLDERED, boarded

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


def test_too_many_cells_at_pads_are_refused():
    """Footprints of a micrometre in a ring make more cells than are computed: one sentence."""
    turn = 2 * np.pi * np.arange(60) / 60
    ring = tuple((15e-3 + 12e-3 * np.cos(at), 15e-3 + 12e-3 * np.sin(at)) for at in turn)
    part = SOLDERED | {"footprint_m": (1e-6, 1e-6)}
    channel = PLACED | {"series": 60, "at": ring, "pad_m": (0.5e-3, 0.5e-3), "current_a": 0.1}
    board = BOARD | {"size_m": (30e-3, 30e-3)}
    described = boarded({"ring": channel}, emitters={"white": part}, board=board)
    said = r"board.cell: found \d+ by \d+ cells, .* 60 pads .* footprints of 0.001 mm .* 100000"
    with pytest.raises(InputError, match=said):
        full_board(described)
