"""Holes at the rim and over pads, and boards that holes cut in pieces."""

import functools

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp.hole import Hole, opening_m
from derate.plant.board.full import cells_of
from derate.plant.board.lumped import lumped_board
from derate.plant.board.shapes import polygon_area, rectangle_corners, rectangles_area
from derate.plant.board.sheets import areas_of
from derate.plant.rest import resting
from tests.plant.board.invented_board import ALUMINIUM_BOARD, layout, rises
from tests.plant.board.test_lumped_lamp import board_lamp

ROUNDING = 1e-9
"""Relative: areas of cells as differences of areas below lines."""
NOTCH = Hole(at=(0.015, 0.0), diameter_m=4e-3)
RIM = rectangle_corners(0.03, 0.02)
MM = 1e-3
DUMBBELL = tuple(
    (x * MM, y * MM)
    for x, y in ((0, 0), (13, 0), (13, 9), (17, 9), (17, 0), (30, 0), (30, 20), (17, 20), (17, 11),
                 (13, 11), (13, 20), (0, 20))
)  # fmt: skip
CUT = {"at": (15 * MM, 10 * MM), "diameter_m": 3 * MM}
"""A hole wider than the bar of the dumbbell."""


def notched():
    """A layout whose outline runs round the notch, and one with a hole there instead."""
    arc = opening_m(NOTCH, [tuple(corner) for corner in RIM])
    inner = sorted((corner for corner in arc if corner[1] > 0), key=lambda corner: corner[0])
    ends = sorted(corner for corner in arc if corner[1] == 0)
    round_it = np.array([RIM[0], ends[0], *inner, ends[-1], *RIM[1:]])
    return layout(outline=round_it), layout(holes=(np.array(arc),))


def test_a_notch_is_a_hole_at_the_rim():
    """A hole half outside gives the temperatures of a board whose outline runs round it."""
    drawn, holed = notched()
    (one, names), (other, _) = (rises(ALUMINIUM_BOARD, each) for each in (drawn, holed))
    assert len(names) == 4
    assert other == pytest.approx(one, rel=ROUNDING)
    assert np.abs(one - rises(ALUMINIUM_BOARD, layout())[0]).max() > 1e3 * ROUNDING


def test_copper_ends_at_a_hole():
    """A hole over a pad takes its copper as well, cell by cell."""
    hole = np.array(opening_m(Hole(at=(5.5e-3, 9e-3), diameter_m=1.6e-3), RIM))
    described = layout(holes=(hole,))
    full = cells_of(ALUMINIUM_BOARD, described)
    pads = functools.partial(rectangles_area, [pad.copper for pad in described.pads.values()])
    taken = areas_of(functools.partial(polygon_area, hole), described.grid())
    whole = areas_of(pads, described.grid())
    board = areas_of(described.board_area, described.grid())
    left = described.copper_areas(False, described.grid(), board)
    inside = (whole.cell_m2 >= described.grid().cell_m2 * (1 - ROUNDING)) & (taken.cell_m2 > 0)
    assert inside.any()
    assert left.cell_m2[inside] == pytest.approx(
        (whole.cell_m2 - taken.cell_m2)[inside], rel=1e-6, abs=1e-15
    )
    assert full.faces_m2["front"].sum() == pytest.approx(
        0.03 * 0.02 - taken.cell_m2.sum(), rel=ROUNDING
    )


def dumbbell(**changes):
    """A lamp whose board is two plates, their bar cut by a hole."""
    shape = {"size_m": None, "outline_m": DUMBBELL, "holes": (CUT,)}
    return board_lamp(sensor_at=(5 * MM, 16 * MM), **(shape | changes))


def test_a_board_in_pieces_needs_a_way_out_of_each():
    """Cut in two, a board that a link alone cools is refused; an interface cools both parts."""
    link = ({"between": ("board", "sink"), "resistance_k_per_w": 2.0},
            {"between": ("sink", "ambient"), "resistance_k_per_w": 8.0})  # fmt: skip
    bare = {"interface": None, "front": None, "links": link}
    with pytest.raises(InputError, match=r"board\.holes: found holes that cut the board in 2 piec"):
        lumped_board(dumbbell(**bare))
    assert lumped_board(dumbbell(holes=(), **bare)).names[0] == "board"
    mounted = resting(dumbbell())
    rest = mounted.rest(np.ones(1), np.array([25.0]))
    assert not rest.runaway
