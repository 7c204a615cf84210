"""Holes of a board: what they take of it inside, at its rim, in its corners."""

import math

import pytest

from derate.lamp.board import Board
from derate.lamp.hole import Hole, opening_m
from derate.lamp.outline import area_m2

LAYERS = {
    "core": {"material": "fr4", "thickness_m": 1.6e-3},
    "copper": {"thickness_m": 35e-6},
}
SIDE_M, DIAMETER_M = 0.04, 0.004
CIRCLE_M2 = math.pi * DIAMETER_M**2 / 4
POLYGON = 2e-3
"""Relative: a polygon of 96 corners has the area of its circle, parts of it nearly."""
ROUNDING = 1e-12
SQUARE = ((0.0, 0.0), (SIDE_M, 0.0), (SIDE_M, SIDE_M), (0.0, SIDE_M))
HOLLOW = ((0.0, 0.0), (SIDE_M, 0.0), (SIDE_M, SIDE_M), (0.021, SIDE_M), (0.021, 0.02),
          (0.019, 0.02), (0.019, SIDE_M), (0.0, SIDE_M))  # fmt: skip
"""A square with a slot of 2 mm from its upper edge to its middle."""


@pytest.mark.parametrize(
    ("at", "share"),
    [
        ((0.02, 0.01), 1.0),
        ((0.0, 0.02), 0.5),
        ((0.04, 0.04), 0.25),
        ((0.02, -0.001), 1 / 3 - math.sqrt(3) / (4 * math.pi)),
    ],
    ids=["inside", "half", "corner", "centre outside"],
)
@pytest.mark.parametrize("way", [1, -1], ids=["counterclockwise", "clockwise"])
def test_a_hole_takes_what_it_covers(at, share, way):
    """Whole, half, a quarter, the segment beyond half the radius; whichever way the rim runs."""
    opening = opening_m(Hole(at=at, diameter_m=DIAMETER_M), SQUARE[::way])
    assert abs(area_m2(opening)) == pytest.approx(share * CIRCLE_M2, rel=POLYGON)


def test_a_hole_across_a_slot_takes_both_sides():
    """Of a hole in the slot of a hollow rim only what lies left and right of the slot goes."""
    opening = opening_m(Hole(at=(0.02, 0.03), diameter_m=DIAMETER_M), HOLLOW)
    half = DIAMETER_M / 2
    segment = half**2 * math.acos(0.5) - 0.5 * half * math.sqrt(half**2 - (0.5 * half) ** 2)
    assert abs(area_m2(opening)) == pytest.approx(2 * segment, rel=POLYGON)


def test_a_hole_beside_the_board_takes_nothing():
    """One that only touches the rim is no hole."""
    assert opening_m(Hole(at=(-0.0021, 0.02), diameter_m=DIAMETER_M), SQUARE) == ()


@pytest.mark.parametrize("shape", [{"size_m": (SIDE_M, SIDE_M)}, {"diameter_m": SIDE_M}])
def test_the_open_area_counts_notches_once(shape):
    """A face has its area less what holes take of it, also for a hole half outside."""
    middle, rim = ((0.02, 0.02), (0.0, 0.02)) if "size_m" in shape else ((0.0, 0.0), (0.02, 0.0))
    whole = SIDE_M**2 if "size_m" in shape else math.pi * SIDE_M**2 / 4
    holes = [{"at": at, "diameter_m": DIAMETER_M} for at in (middle, rim)]
    board = Board.model_validate(LAYERS | shape | {"holes": holes})
    taken = whole - board.open_area_m2
    # a circle of a tenth of the board's diameter on a round rim: a little less than half of it
    assert 1.45 * CIRCLE_M2 < taken < 1.501 * CIRCLE_M2
    bare = Board.model_validate(LAYERS | shape)
    assert bare.open_area_m2 == pytest.approx(whole, rel=ROUNDING)
