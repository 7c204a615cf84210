"""The board of cells: what holds for any of them, whatever their layers and layout."""

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sparse
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.plant.board.full import cells_of
from tests.plant.board.any_board import boards
from tests.plant.board.invented_board import (
    ALUMINIUM_BOARD,
    COPPER_J_PER_M3_K,
    IN_AIR,
    LAMINATE_BOARD,
    layout,
    round_layout,
    steady,
)

SOLVED = 1e-9
"""Relative: what solving some thousand equations of very unequal size may lose."""
ROUNDING = 1e-12
"""Relative: sums over some thousand cells."""
STEP, STEP_ERROR = 1e-4, 1e-3
"""A central difference of this relative step, and the relative error that rounding leaves it."""

BOARDS = {
    "aluminium": (ALUMINIUM_BOARD, layout()),
    "laminate": (LAMINATE_BOARD, layout(on_core=True)),
    "in air": (IN_AIR, layout()),
    "round": (ALUMINIUM_BOARD, round_layout()),
}


@settings(max_examples=40)
@given(boards())
def test_any_board_is_passive(board):
    """Heat flows from hot to cold only, and never gets lost on the way."""
    stack, described = board
    full = cells_of(stack, described)
    assert full.capacitance_j_per_k.min() > 0.0
    for matrix in full.conduction_w_per_k.values():
        own = matrix.diagonal()
        assert abs(matrix - matrix.T).max() == 0.0
        assert (matrix - sparse.diags_array(own)).max() <= 0.0
        assert np.abs(matrix @ np.ones(len(own))).max() <= ROUNDING * own.max()
    for area_m2 in full.faces_m2.values():
        assert area_m2.min() >= 0.0
    for share in full.heat.values():
        assert share.sum() == pytest.approx(1.0, rel=ROUNDING)


@settings(max_examples=25)
@given(boards())
def test_all_heat_leaves_through_the_faces(board):
    """At rest the faces shed what the kept nodes take in; and heat goes both ways alike."""
    stack, described = board
    full = cells_of(stack, described)
    exchange = stack.exchange_w_per_m2_k
    rise = steady(full, exchange)
    shed = sum(each * full.faces_m2[name] @ rise for name, each in exchange.items())
    assert shed == pytest.approx(1.0, rel=SOLVED)
    heat = np.column_stack(list(full.heat.values()))
    transfer = heat.T @ rise
    assert transfer == pytest.approx(transfer.T, rel=SOLVED)
    assert rise.min() > 0.0


@settings(max_examples=25)
@given(boards(), st.sampled_from(["copper", "core", "bottom_copper", "dielectric"]))
def test_a_layer_that_conducts_better_makes_no_junction_hotter(board, layer):
    """Twice the conductivity of a layer never raises the rise of a heated node by its own heat."""
    stack, described = board
    slab = getattr(stack, layer)
    if slab is None:
        return
    along, across = 2 * slab.along_w_per_m_k, 2 * slab.across_w_per_m_k
    better = slab._replace(along_w_per_m_k=along, across_w_per_m_k=across)
    before, after = (_own(each, described) for each in (stack, replace(stack, **{layer: better})))
    assert (after <= before * (1 + SOLVED)).all()


def _own(stack, described):
    full = cells_of(stack, described)
    heat = np.column_stack(list(full.heat.values()))
    return np.sum(heat * steady(full, stack.exchange_w_per_m2_k), axis=0)


@pytest.mark.parametrize("name", BOARDS)
def test_capacity_is_that_of_the_layers(name):
    """All cells together hold the heat of copper, dielectric, core and bottom copper."""
    stack, described = BOARDS[name]
    least, most = described.outline.min(axis=0), described.outline.max(axis=0)
    board_m2 = described.board_area(*np.column_stack((least, most))).sum()
    pads_m2 = sum(math.prod(pad.copper[2:]) for pad in described.pads.values())
    expected = stack.copper.thickness_m * COPPER_J_PER_M3_K * pads_m2
    for slab in (stack.core, stack.dielectric, stack.bottom_copper):
        if slab:
            expected += slab.thickness_m * slab.heat_j_per_m3_k * board_m2
    assert cells_of(stack, described).capacitance_j_per_k.sum() == pytest.approx(
        expected, rel=ROUNDING
    )


@pytest.mark.parametrize("name", BOARDS)
def test_faces_have_the_area_of_the_board(name):
    """Front and back cover the board, the edge its outline times the core's thickness."""
    stack, described = BOARDS[name]
    full = cells_of(stack, described)
    least, most = described.outline.min(axis=0), described.outline.max(axis=0)
    board_m2 = described.board_area(*np.column_stack((least, most))).sum()
    back = "interface" if "interface" in full.faces_m2 else "back"
    for face in ("front", back):
        assert full.faces_m2[face].sum() == pytest.approx(board_m2, rel=ROUNDING)
    sides_m = np.hypot(*(np.roll(described.outline, -1, axis=0) - described.outline).T)
    expected = sides_m.sum() * stack.core.thickness_m
    assert full.faces_m2["edge"].sum() == pytest.approx(expected, rel=ROUNDING)


CONDUCTIVITIES = {
    "copper along": ("copper", "along_w_per_m_k"),
    "copper across": ("copper", "across_w_per_m_k"),
    "dielectric": ("dielectric", "across_w_per_m_k"),
    "core along": ("core", "along_w_per_m_k"),
    "core across": ("core", "across_w_per_m_k"),
    "bottom copper along": ("bottom_copper", "along_w_per_m_k"),
    "bottom copper across": ("bottom_copper", "across_w_per_m_k"),
}


@pytest.mark.parametrize("key", [*CONDUCTIVITIES, "vias"])
def test_each_part_is_a_derivative(key):
    """A part of the conduction is the whole's derivative by the logarithm of its conductivity."""
    stack, described = BOARDS["aluminium" if key == "dielectric" else "laminate"]

    def whole(factor):
        if key == "vias":
            changed = replace(stack, vias_w_per_m_k=factor * stack.vias_w_per_m_k)
        else:
            layer, field = CONDUCTIVITIES[key]
            slab = getattr(stack, layer)
            slab = slab._replace(**{field: factor * getattr(slab, field)})
            changed = replace(stack, **{layer: slab})
        return cells_of(changed, described).conductance_w_per_k({}).toarray()

    found = cells_of(stack, described).conduction_w_per_k[key].toarray()
    expected = (whole(1 + STEP) - whole(1 - STEP)) / (2 * STEP)
    assert np.abs(found - expected).max() <= STEP_ERROR * np.abs(found).max()


def test_what_lies_beside_the_board_is_refused():
    """A sensor off the board is told by its node."""
    with pytest.raises(InputError, match=r"board: found place\.ntc outside it, due a position on"):
        cells_of(ALUMINIUM_BOARD, layout(places={"place.ntc": (0.05, 0.01)}))


def test_a_sensor_on_copper_feels_the_copper():
    """A sensor's place in a pad is warmer than the core below it, one beside the pad is not."""
    full = cells_of(ALUMINIUM_BOARD, layout(places={"place.ntc": (10e-3, 8e-3)}))
    there = np.flatnonzero(full.heat["place.ntc"])
    assert {full.sheets[sheet] for sheet in full.cells[there, 2]} == {"copper"}
    full = cells_of(ALUMINIUM_BOARD, layout())
    there = np.flatnonzero(full.heat["place.ntc"])
    assert {full.sheets[sheet] for sheet in full.cells[there, 2]} == {"core 0"}
