"""The quick estimate of spreading beside the model of cells, on boards with a single pad."""

import numpy as np
import pytest

from derate.plant.board.estimate import quick_estimate
from derate.plant.board.lumped import lumped_board
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import Medium, rectangle_on_plate
from tests.plant.invented import CHANNEL, WHITE, lamp

TOO_LOW, TOO_HIGH = 0.01, 0.12
"""The estimate prescribes a way to the heat and so lies above the model, by up to 10 % as measured
here; the cells of the model leave 1 %."""

BOARD = {
    "size_m": (0.04, 0.03),
    "cell_m": 1e-3,
    "copper": {"thickness_m": 35e-6},
    "dielectric": {"thickness_m": 100e-6, "conductivity_w_per_m_k": 2.2},
    "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
    "interface": {"to": "sink", "area_resistance_m2_k_per_w": 50e-6},
}
LAMINATE = {
    "dielectric": None,
    "core": {"material": "fr4", "thickness_m": 1.6e-3},
    "bottom_copper": {"thickness_m": 35e-6},
}
VIAS = {"vias": {"pitch_m": 1.2e-3, "drill_m": 3e-4, "plating_m": 25e-6}}
AIR = {
    "interface": None,
    "front": {"facing": "up", "emissivity": 0.9},
    "back": {"facing": "down", "emissivity": 0.9},
}
ROUND = {"size_m": None, "diameter_m": 0.035}
MIDDLE = (0.02, 0.015)


def board_lamp(changes, at=(MIDDLE,), pad_m=(8e-3, 6e-3), footprint_m=(3.3e-3, 3.3e-3), on=None):
    """An invented lamp with emitters on a board, each on copper of its own."""
    board = {key: value for key, value in (BOARD | changes).items() if value is not None}
    channel = {key: value for key, value in CHANNEL.items() if key != "solder_point"}
    channel |= {"at": at, "series": len(at), "pad_m": pad_m, "pad_on": on or "dielectric"}
    return lamp(
        {"main": channel},
        emitters={"white": WHITE | {"footprint_m": footprint_m}},
        board=board,
        nodes={"sink": {"capacitance_j_per_k": 60.0}},
        links=({"between": ("sink", "ambient"), "resistance_k_per_w": 8.0},),
    )


def modelled(board_lamp):
    """Rise of each solder node above the board's mean by the reduced model of cells [K/W]."""
    board = lumped_board(board_lamp)
    conductance = sum(board.conduction_w_per_k.values()) + sum(
        each * board.faces[face].matrix_m2 for face, each in board.exchange_w_per_m2_k.items()
    )
    rise = np.linalg.inv(conductance)
    nodes = [name for name in board.names if name.startswith("solder.")]
    mean = board.index("board")
    return {n: rise[board.index(n), board.index(n)] - rise[mean, board.index(n)] for n in nodes}


@pytest.mark.parametrize(
    ("changes", "options"),
    [
        ({}, {}),
        ({}, {"at": ((5e-3, 4e-3),)}),
        ({}, {"pad_m": (0.02, 0.02)}),
        ({"copper": {"thickness_m": 210e-6}}, {}),
        ({}, {"on": "core"}),
        (AIR, {}),
        (ROUND, {"at": ((9e-3, 0.0),)}),
        (LAMINATE, {}),
        (LAMINATE | VIAS, {}),
    ],
    ids=["plain", "corner", "wide pad", "thick copper", "on core", "air", "round", "fr4", "vias"],
)
def test_estimate_lies_just_above_the_model(changes, options):
    """A single pad: closed form and model of cells agree within 12 %, the closed form above."""
    case = board_lamp(changes, **options)
    ((node, quick),) = quick_estimate(case).items()
    ratio = quick / modelled(case)[node]
    assert 1 - TOO_LOW < ratio < 1 + TOO_HIGH


def test_without_copper_around_it_is_a_source_on_a_plate():
    """Where the pad is no larger than the footprint, layers in series and the plate are all."""
    side = 5e-3
    case = board_lamp({}, pad_m=(side, side), footprint_m=(side, side))
    medium = Medium(138.0, thickness_m=1.5e-3, film_w_per_m2_k=1 / 50e-6)
    plate = rectangle_on_plate(BOARD["size_m"], Rectangle(*MIDDLE, side, side), medium)
    layers = (35e-6 / 391.0 + 100e-6 / 2.2) / side**2 + 1.5e-3 / 138.0 / 2 / 1.2e-3
    (quick,) = quick_estimate(case).values()
    assert quick == pytest.approx(plate + layers, rel=1e-9)
    (model,) = modelled(case).values()
    assert quick == pytest.approx(model, rel=0.02)


def test_every_emitter_has_its_own():
    """Emitters on one board are told apart; nearer to the edge is worse."""
    at = ((5e-3, 4e-3), MIDDLE)
    quick = quick_estimate(board_lamp({}, at=at))
    assert list(quick) == ["solder.main.1", "solder.main.2"]
    assert quick["solder.main.1"] > quick["solder.main.2"]
