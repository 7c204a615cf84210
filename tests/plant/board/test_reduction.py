"""The small network against the board of cells itself: at rest, in time, in frequency."""

import numpy as np
import pytest
import scipy.linalg as dense

from derate.plant.board import reduce
from derate.plant.board.full import cells_of
from derate.plant.board.lumped import lump
from derate.plant.board.model import FAINT, Model, judge_of
from derate.plant.board.reduce import LOOSER
from tests.plant.board.in_time import impedance_of, steps_of
from tests.plant.board.invented_board import (
    ALUMINIUM_BOARD,
    IN_AIR,
    LAMINATE_BOARD,
    conductance_of,
    layout,
    lumped_and_full,
    round_layout,
    steady,
)

STEADY = 1e-9
"""Of the rise: rounding only."""
ROUNDING = 1e-9
"""Relative to the largest element: a few products of full matrices."""
SWINGING = 3.0
"""Swings are not what the accuracy is set by; near the quickest rate they err by this much more."""
INTEGRATED = 1e-4
"""Of the rise: the integration of the cells."""
NEAR = 1e-5
"""Of the rise: heat transfers of faces to which the network was not fitted."""
BOARDS = {
    "aluminium": (ALUMINIUM_BOARD, layout()),
    "laminate": (LAMINATE_BOARD, layout(on_core=True)),
    "in air": (IN_AIR, layout()),
    "round": (ALUMINIUM_BOARD, round_layout()),
}


@pytest.fixture(scope="module", params=BOARDS)
def reduced(request):
    """A board reduced to one percent: its small network and its cells."""
    return lumped_and_full(*BOARDS[request.param])


def kept(board):
    """Names of the kept nodes."""
    return [name for name in board.names if not name.startswith("board.")]


def model(board, exchange=None):
    """The small network with heat into its kept nodes."""
    inputs = np.eye(len(board.names))[:, : len(kept(board))]
    return Model(board.capacitance_j_per_k, conductance_of(board, exchange), inputs)


def cells_rise(full, names, exchange):
    """Steady rises between kept nodes by the cells [K/W]."""
    heat = np.column_stack([full.heat[name] for name in names])
    return heat.T @ steady(full, exchange, heat)


def own(rise):
    """The scale of each pair: geometric mean of what the two nodes rise by their own heat."""
    return np.sqrt(np.outer(np.diag(rise), np.diag(rise)))


def above_board(rise):
    """The same, of what they rise above the mean of the board; the board's own is its rise."""
    scale = np.diag(rise) - 2 * rise[0] + rise[0, 0]
    scale[0] = rise[0, 0]
    return np.sqrt(np.outer(scale, scale))


def test_steady_rises_are_exact(reduced):
    """Every rise between kept nodes is that of the cells."""
    board, full = reduced
    expected = cells_rise(full, kept(board), board.exchange_w_per_m2_k)
    assert (np.abs(model(board).rise() - expected) <= STEADY * own(expected)).all()


def test_transients_are_within_the_accuracy(reduced):
    """Integrated in full, step answers differ by less than the accuracy, and than is told."""
    board, full = reduced
    names, small = kept(board), model(board)
    rise = small.rise()
    slowest = dense.eigh(small.conductance, small.capacitance, eigvals_only=True)[0]
    times_s = np.geomspace(1e-6 / slowest, 4 / slowest, 45)
    found = small.steps(times_s)
    for number, heated in enumerate(names):
        if heated.startswith("place."):
            continue
        steps = steps_of(full, board.exchange_w_per_m2_k, heated, times_s)
        expected = np.column_stack([steps[name] for name in names])
        error = np.abs(found[:, :, number] - expected).max(axis=0) / above_board(rise)[number]
        assert error.max() < 0.01
        assert error.max() < board.error.transient + board.error.frequency + INTEGRATED


def test_frequency_answers_are_within_the_accuracy(reduced):
    """Heat that swings at any frequency gives every kept node the cells' swing."""
    board, full = reduced
    names, small = kept(board), model(board)
    scale = SWINGING * 0.01 * above_board(small.rise())
    for frequency in np.geomspace(1e-3, 1e3, 7):
        matrix = small.conductance + 1j * frequency * small.capacitance
        found = small.inputs.T @ np.linalg.solve(matrix, small.inputs)
        for number, heated in enumerate(names):
            if heated.startswith("place."):
                continue
            swing = impedance_of(full, board.exchange_w_per_m2_k, heated, frequency)
            expected = np.array([swing[name] for name in names])
            assert (np.abs(found[:, number] - expected) < scale[number]).all()


def test_passive_and_stable(reduced):
    """Capacity is positive, conduction not negative: no heat comes from nowhere."""
    board, _ = reduced
    assert np.linalg.eigvalsh(board.capacitance_j_per_k)[0] > 0.0
    for matrix in board.conduction_w_per_k.values():
        assert (matrix == matrix.T).all()
        largest = np.abs(matrix).max()
        assert np.linalg.eigvalsh(matrix)[0] > -ROUNDING * largest
        assert np.abs(matrix.sum(axis=1)).max() < ROUNDING * largest
    for face in board.faces.values():
        assert np.linalg.eigvalsh(face.matrix_m2)[0] > -ROUNDING * face.area_m2
        assert face.weight_m2.sum() == pytest.approx(face.area_m2, rel=ROUNDING)


def test_heat_enters_kept_nodes_alone(reduced):
    """The cells' share of a kept node's heat, seen by the nodes, is that node and no other."""
    board, full = reduced
    for number, name in enumerate(kept(board)):
        entered = full.heat[name] @ board.shape
        assert entered == pytest.approx(np.eye(len(board.names))[number], abs=ROUNDING)
    single = board.points_m[len(kept(board)) :]
    assert np.isnan(board.points_m[: len(kept(board))]).all()
    assert np.isfinite(single).all()


def test_nodes_of_one_temperature_are_a_board_of_one_temperature(reduced):
    """All cells follow when all nodes have the same temperature; capacity is the cells'."""
    board, full = reduced
    assert board.shape.sum(axis=1) == pytest.approx(1.0, abs=ROUNDING)
    assert board.capacitance_j_per_k.sum() == pytest.approx(
        full.capacitance_j_per_k.sum(), rel=ROUNDING
    )


@pytest.mark.parametrize("factor", [0.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0, 400.0, 1000.0])
@pytest.mark.parametrize("name", ["aluminium", "laminate", "round"])
def test_a_degraded_interface(name, factor):
    """Put together anew with a worse interface, the network is nearly as exact, at rest and on the
    way there."""
    board, full = lumped_and_full(*BOARDS[name])
    exchange = dict(board.exchange_w_per_m2_k)
    exchange["interface"] /= factor
    names, small = kept(board), model(board, exchange)
    expected = cells_rise(full, names, exchange)
    heated = [i for i, each in enumerate(names) if not each.startswith("place.")]
    error = np.abs(small.rise() - expected) / above_board(expected)
    assert error[:, heated].max() < 0.01
    slowest = dense.eigh(small.conductance, small.capacitance, eigvals_only=True)[0]
    times_s = np.geomspace(1e-6 / slowest, 4 / slowest, 30)
    steps = steps_of(full, exchange, "solder.main.1", times_s)
    at = names.index("solder.main.1")
    for number, each in enumerate(names):
        difference = np.abs(small.steps(times_s)[:, number, at] - steps[each]).max()
        assert difference < LOOSER * 0.01 * above_board(expected)[number, at]


@pytest.mark.parametrize("film", [3.0, 40.0])
def test_another_film(film):
    """Film coefficients other than those it was made for hardly cost anything."""
    board, full = lumped_and_full(IN_AIR, layout())
    exchange = {"front": film, "back": film / 2}
    expected = cells_rise(full, kept(board), exchange)
    assert (np.abs(model(board, exchange).rise() - expected) <= NEAR * own(expected)).all()


@pytest.mark.parametrize("accuracy", [0.1, 0.01, 1e-3, 1e-5])
def test_asked_for_more_it_gives_more(accuracy):
    """The accuracy asked for is what is reached, with more nodes the finer it is."""
    board, full = lumped_and_full(ALUMINIUM_BOARD, layout(), accuracy)
    rough = lump(full, ALUMINIUM_BOARD.exchange_w_per_m2_k, 10 * accuracy)
    assert board.error.transient + board.error.frequency < accuracy
    assert board.error.degraded < LOOSER * accuracy
    assert board.error.order == len(board.names)
    assert len(rough.names) <= len(board.names)


def test_errors_are_judged_by_the_rise_above_the_board():
    """An error alone counts against its pair, one of a group against the rise there or a share of
    the largest rise; the mean of the board against its own rise."""
    rise = np.array([[1.0, 1.0, 1.0], [1.0, 5.0, 1.1], [1.0, 1.1, 2.0]])
    error = np.array([[0.0, 0.0, 0.0], [0.0, 0.04, 0.01], [0.0, 0.01, 0.002]])
    assert judge_of(rise, (0, 1, 2), (), 2).worst(error) == pytest.approx(0.01)
    assert judge_of(rise, (2,), (), 2).worst(error) == pytest.approx(0.005)
    alone_and_together = judge_of(rise, (0,), ((1,),), 2).worst(error)
    assert alone_and_together == pytest.approx(max(0.04 / 4.0, 0.01 / (FAINT * 4.0)))
    assert judge_of(rise, (0,), (), 2).worst(np.full((3, 3), 0.02)) == pytest.approx(0.02)


def test_a_rate_that_tells_nothing_does_not_end_the_search(monkeypatch):
    """Where the second rate brings no new pattern, the next are tried."""
    monkeypatch.setattr(reduce, "RATES", (0.5, 0.25, 0.75, 1.0))
    full = cells_of(IN_AIR, layout())
    board = lump(full, IN_AIR.exchange_w_per_m2_k, 0.01)
    assert board.error.frequency > 0.0
    times_s = np.geomspace(1e-4, 1e3, 40)
    small = model(board)
    steps = steps_of(full, board.exchange_w_per_m2_k, "solder.main.1", times_s)
    expected = np.column_stack([steps[name] for name in kept(board)])
    at = kept(board).index("solder.main.1")
    error = np.abs(small.steps(times_s)[:, :, at] - expected).max(axis=0)
    told = board.error.transient + board.error.frequency + INTEGRATED
    assert (error / above_board(small.rise())[at]).max() < told
