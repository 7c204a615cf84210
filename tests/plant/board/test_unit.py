"""Boards of units in the nodes of the nominal board, against boards reduced by themselves."""

import numpy as np
import pytest

from derate.plant.board.lumped import lumped_board
from derate.plant.board.model import Model
from derate.plant.board.unit import board_like
from tests.plant.board.test_lumped_lamp import BOARD, LAMINATE, board_lamp

STEADY, STEPS = 5e-3, 1e-2
"""Shares of the steady rise: the first of second order in what differs, here a tenth or a factor of
two of the interface; the second within what a reduction promises of step answers."""
ROUNDING = 1e-9
"""Relative."""
TIMES_S = np.geomspace(1e-3, 1e3, 25)


def changed(dielectric=1.0, interface=1.0, core=1.0):
    """The invented board with factors on a conductivity, a resistance and a thickness."""
    known = BOARD["dielectric"]["conductivity_w_per_m_k"]
    area_resistance = BOARD["interface"]["area_resistance_m2_k_per_w"]
    return board_lamp(
        dielectric=BOARD["dielectric"] | {"conductivity_w_per_m_k": known * dielectric},
        interface=BOARD["interface"] | {"area_resistance_m2_k_per_w": area_resistance * interface},
        core=BOARD["core"] | {"thickness_m": BOARD["core"]["thickness_m"] * core},
    )


def as_model(board):
    """The network of a board with its faces' partners held, heated at its kept nodes."""
    faces = board.exchange_w_per_m2_k.items()
    shed = sum(each * board.faces[name].matrix_m2 for name, each in faces)
    kept = np.flatnonzero(np.isnan(board.points_m[:, 0]))
    return Model(
        board.capacitance_j_per_k,
        sum(board.conduction_w_per_k.values()) + shed,
        np.eye(len(board.names))[:, kept],
    )


@pytest.mark.parametrize(
    "factors",
    [
        {"dielectric": 0.9},
        {"dielectric": 1.1, "core": 0.95},
        {"interface": 2.0},
        {"dielectric": 0.9, "interface": 0.5, "core": 1.05},
    ],
    ids=str,
)
def test_a_unit_in_the_nodes_of_the_nominal_board(factors):
    """Rises and step answers of a unit are those of its own reduction, in the nominal's nodes."""
    nominal, lamp = lumped_board(changed()), changed(**factors)
    unit, own = board_like(nominal, lamp), lumped_board(lamp)
    assert unit.names == nominal.names
    assert np.linalg.eigvalsh(unit.capacitance_j_per_k).min() > 0.0
    assert np.linalg.eigvalsh(as_model(unit).conductance).min() > 0.0
    rise = as_model(own).rise()
    assert as_model(unit).rise() == pytest.approx(rise, abs=STEADY * rise.max())
    steps = as_model(own).steps(TIMES_S)
    assert as_model(unit).steps(TIMES_S) == pytest.approx(steps, abs=STEPS * rise.max())
    assert np.abs(as_model(nominal).rise() - rise).max() > 5 * STEADY * rise.max()


def test_second_order():
    """Twice the difference makes four times the error, or nearly."""
    nominal, errors = lumped_board(changed()), []
    for factor in (0.9, 0.8):
        lamp = changed(dielectric=factor)
        rise = as_model(lumped_board(lamp)).rise()
        errors.append(np.abs(as_model(board_like(nominal, lamp)).rise() - rise).max())
    assert 3.0 < errors[1] / errors[0] < 6.0


def test_the_nominal_board_itself():
    """A unit without a difference has the nominal board's numbers."""
    nominal = lumped_board(changed())
    unit = board_like(nominal, changed())
    assert unit.capacitance_j_per_k == pytest.approx(nominal.capacitance_j_per_k, rel=ROUNDING)
    for name, matrix in nominal.conduction_w_per_k.items():
        scale = np.abs(matrix).max()
        assert unit.conduction_w_per_k[name] == pytest.approx(matrix, abs=ROUNDING * scale)
    for name, face in nominal.faces.items():
        assert unit.faces[name].matrix_m2 == pytest.approx(
            face.matrix_m2, rel=ROUNDING, abs=ROUNDING * face.area_m2
        )


def test_another_drawing():
    """A board of other layers is reduced by itself."""
    other = board_lamp(**LAMINATE)
    unit = board_like(lumped_board(changed()), other)
    assert unit is lumped_board(other)
