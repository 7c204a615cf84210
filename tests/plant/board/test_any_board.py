"""Any board, reduced: exact at rest, passive, and as accurate in time as is told."""

import numpy as np
import scipy.linalg as dense
from hypothesis import assume, given, settings

from derate.errors import InputError
from derate.plant.board.model import Model, judge_of
from tests.plant.board.any_board import boards
from tests.plant.board.in_time import march_of
from tests.plant.board.invented_board import conductance_of, lumped_and_full, steady

STEADY = 1e-8
"""Of the rise: a film of 2 W/(m^2 K) on copper that conducts ten million times as much across is
known to nine digits in a matrix that holds both."""
ROUNDING = 1e-9
"""Relative to the largest eigenvalue."""
ACCURACY = 0.02
MARCHED = 3e-5
"""Of the whole rise, where the accuracy counts against the rise above the board: the march's own
error, in steps of a sixteenth of the time that has passed."""


@settings(max_examples=15)
@given(boards())
def test_any_board_reduced(board):
    """Steady rises are the cells', no heat comes from nowhere, errors are within the accuracy."""
    stack, described = board
    try:
        small, full = lumped_and_full(stack, described, ACCURACY)
    except InputError:
        assume(False)  # emitters so close that cells cannot tell them apart
    names = [name for name in small.names if not name.startswith("board.")]
    conductance = conductance_of(small)
    found = dense.inv(conductance)[: len(names), : len(names)]
    heat = np.column_stack([full.heat[name] for name in names])
    expected = heat.T @ steady(full, stack.exchange_w_per_m2_k, heat)
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert (np.abs(found - expected) <= STEADY * scale).all()
    rates = dense.eigh(conductance, small.capacitance_j_per_k, eigvals_only=True)
    assert rates[0] > 0.0
    for matrix in small.conduction_w_per_k.values():
        values = np.linalg.eigvalsh(matrix)
        assert values[0] > -ROUNDING * values[-1]
    assert small.error.transient + small.error.frequency < ACCURACY


@settings(max_examples=6)
@given(boards())
def test_any_board_in_time(board):
    """A march of all cells through time and the small network stay together within the accuracy."""
    stack, described = board
    try:
        small, full = lumped_and_full(stack, described, ACCURACY)
    except InputError:
        assume(False)
    names = [name for name in small.names if not name.startswith("board.")]
    heated = tuple(i for i, name in enumerate(names) if not name.startswith("place."))
    inputs = np.eye(len(small.names))[:, : len(names)]
    model = Model(small.capacitance_j_per_k, conductance_of(small), inputs)
    heat = np.column_stack([full.heat[name] for name in names])
    slowest = dense.eigh(model.conductance, model.capacitance, eigvals_only=True)[0]
    times_s, rises = march_of(full, stack.exchange_w_per_m2_k, heat, 3.0 / slowest)
    judge = judge_of(model.rise(), heated, (), len(names) - 1)
    marched = MARCHED * model.rise().max() / judge.own.min()
    assert judge.worst(model.steps(times_s) - rises) < ACCURACY + marched
