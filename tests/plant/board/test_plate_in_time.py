"""The board in time against the exact step response of a plate."""

import numpy as np
import pytest
from scipy.linalg import eigh

from derate.lamp.material import built_in_materials
from derate.plant.board.lumped import lumped_board
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import Medium, rectangle_on_plate_after
from tests.plant.board.test_estimate import BOARD, MIDDLE, board_lamp

EARLY, LATER = 0.06, 0.025
"""Parts of the final rise [-]: what two slices of the core leave while heat passes through it, and
from ``PASSED_S`` on, together with cells of 0.5 mm and an accuracy of 0.1 %."""
PASSED_S = 0.01


@pytest.mark.parametrize("at", [MIDDLE, (6e-3, 5e-3)], ids=["middle", "corner"])
@pytest.mark.parametrize("film", [2e4, 500.0])
def test_a_pad_warms_like_a_source_on_a_plate(at, film):
    """A bare pad on an aluminium core follows the exact solution from a millisecond to rest."""
    side, thickness = 5e-3, 1.5e-3
    board = board_lamp(
        {
            "copper": {"thickness_m": 1e-6},
            "dielectric": None,
            "cell_m": 5e-4,
            "accuracy": 1e-3,
            "interface": {"to": "sink", "area_resistance_m2_k_per_w": 1 / film},
        },
        at=(at,),
        pad_m=(side, side),
        footprint_m=(side, side),
    )
    small = lumped_board(board)
    conductance = sum(small.conduction_w_per_k.values()) + film * small.faces["interface"].matrix_m2
    rate, shape = eigh(conductance, small.capacitance_j_per_k)
    felt = shape[small.index("solder.main.1")]
    times_s = np.geomspace(1e-3, 1e3, 25)
    got = -np.expm1(-np.outer(times_s, rate)) / rate @ felt**2
    core = built_in_materials()["aluminium_5052"]
    along = core.conductivity_w_per_m_k
    exact = rectangle_on_plate_after(
        times_s,
        along / core.heat_j_per_m3_k,
        BOARD["size_m"],
        Rectangle(*at, side, side),
        Medium(along, None, thickness, film),
    )
    apart = np.abs(got - exact) / exact[-1]
    assert apart.max() < EARLY
    assert apart[times_s >= PASSED_S].max() < LATER
