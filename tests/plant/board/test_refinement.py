"""What the usual cells and slices leave of the rise of a solder node, on boards of all kinds."""

from dataclasses import replace

import numpy as np
import pytest

from derate.plant.board.full import cells_of
from derate.plant.board.layout import Layout, Pad
from derate.plant.board.shapes import Rectangle, rectangle_corners
from derate.plant.board.stack import Slab, Stack
from tests.plant.board.invented_board import ALUMINIUM_BOARD, LAMINATE_BOARD, copper, steady

SIDE_M, PAD_M, FOOTPRINT_M, CELL_M = 0.024, (7e-3, 6e-3), 3.3e-3, 1e-3
MOUNTED = {"interface": 2e4}
KINDS = {
    "metal core": (replace(ALUMINIUM_BOARD, exchange_w_per_m2_k=MOUNTED), 0.01),
    "metal core in air": (replace(ALUMINIUM_BOARD, exchange_w_per_m2_k={"back": 10.0}), 0.01),
    "thick copper core, pad on it": (
        Stack(copper(70e-6), copper(1.5e-3), exchange_w_per_m2_k=MOUNTED), 0.015,
    ),
    "laminate with vias": (replace(LAMINATE_BOARD, exchange_w_per_m2_k=MOUNTED), 0.015),
    "laminate without": (
        replace(LAMINATE_BOARD, vias_w_per_m_k=0.0, slices=3, exchange_w_per_m2_k=MOUNTED), 0.04,
    ),
    "alumina between thick copper": (
        Stack(copper(300e-6), Slab(0.63e-3, 24.0, 24.0, 3.4e6), bottom_copper=copper(300e-6),
              exchange_w_per_m2_k=MOUNTED), 0.03,
    ),
}  # fmt: skip
"""Boards, and the error [of the rise of the solder node above the partner] they are held to."""
SHIFTED = 1e-3
"""Of the rise: what is left of how pads meet the cells, on cells that follow the pads."""


def rise(stack, at_m, **grid):
    """Rise of the solder node of one emitter somewhere on the board [K/W]."""
    pad = Pad(
        Rectangle(*at_m, *PAD_M), Rectangle(*at_m, FOOTPRINT_M, FOOTPRINT_M),
        stack.dielectric is None,
    )  # fmt: skip
    outline = rectangle_corners(SIDE_M, SIDE_M)
    described = Layout(outline, CELL_M, pads={"solder.main.1": pad}, **grid)
    return own_rise(stack, described)


def own_rise(stack, described):
    """Rise of the first solder node by its own heat [K/W]."""
    full = cells_of(stack, described)
    heat = full.heat["solder.main.1"]
    return heat @ steady(full, stack.exchange_w_per_m2_k, heat)


def fine_rise(stack, across, slices):
    """The same with the emitter in the middle, from a quarter of the board in finer cells."""
    half = [length / 2 for length in PAD_M]
    pad = Pad(
        Rectangle(half[0] / 2, half[1] / 2, *half),
        Rectangle(FOOTPRINT_M / 4, FOOTPRINT_M / 4, FOOTPRINT_M / 2, FOOTPRINT_M / 2),
        stack.dielectric is None,
    )
    outline = rectangle_corners(SIDE_M / 2, SIDE_M / 2)
    described = Layout(outline, 4 * CELL_M / across, pads={"solder.main.1": pad}, across=across / 2)
    return own_rise(replace(stack, slices=slices), described) / 4


@pytest.mark.parametrize("kind", KINDS)
def test_usual_cells(kind):
    """Usual cells come near what finer ones tend to."""
    stack, error = KINDS[kind]
    coarse, fine = fine_rise(stack, 8, 3), fine_rise(stack, 16, 6)
    expected = fine + (fine - coarse) / 3
    assert abs(fine / expected - 1) < error / 2
    assert rise(stack, (SIDE_M / 2, SIDE_M / 2)) == pytest.approx(expected, rel=error)


@pytest.mark.parametrize("kind", KINDS)
def test_where_the_pad_lies_in_the_cells(kind):
    """Moved by a part of a cell the emitter is as hot, where the board is wide around it."""
    stack, _ = KINDS[kind]
    still = rise(stack, (SIDE_M / 2, SIDE_M / 2))
    for part in (0.2, 0.5, 0.8):
        moved = rise(stack, (SIDE_M / 2 + part * CELL_M, SIDE_M / 2 - 0.3 * part * CELL_M))
        assert moved == pytest.approx(still, rel=SHIFTED)


def test_as_hot_when_turned():
    """A board turned by a quarter, or seen in a mirror, has the same rises."""
    at = {"solder.main.1": (8e-3, 7e-3), "solder.main.2": (15e-3, 12.3e-3)}
    found = []
    for turn in (lambda x, y: (x, y), lambda x, y: (y, x), lambda x, y: (SIDE_M - x, y)):
        pads = {
            node: Pad(Rectangle(*turn(*spot), 5e-3, 5e-3), Rectangle(*turn(*spot), 2.6e-3, 2.6e-3))
            for node, spot in at.items()
        }
        outline = rectangle_corners(SIDE_M, SIDE_M)
        full = cells_of(ALUMINIUM_BOARD, Layout(outline, CELL_M, pads=pads))
        heat = np.column_stack([full.heat[node] for node in at])
        found.append(heat.T @ steady(full, ALUMINIUM_BOARD.exchange_w_per_m2_k, heat))
    for other in found[1:]:
        assert other == pytest.approx(found[0], rel=1e-9)
