"""The built-in policies: where they act, where they let go, and that numba can compile them."""

import itertools
import math

import numba
import numpy as np
import pytest

from derate.control import foldback, open_loop, pi, steps

PERIOD_S = 0.1
ROUNDING = 1e-12
"""Shares are of order 1 and take a handful of floating-point operations."""

FOLD = foldback.Settings(start_c=50.0, end_c=70.0, floor=0.1, hysteresis_k=3.0)
LEVELS = steps.Settings(at_c=(50.0, 60.0, 70.0), limits=(0.75, 0.5, 0.125), hysteresis_k=4.0)
REGULATOR = pi.Settings(setpoint_c=60.0, gain_per_k=0.05, integral_per_k_s=0.01, floor=0.1)
BUILT_IN = [
    (open_loop, open_loop.Settings()),
    (steps, LEVELS),
    (foldback, FOLD),
    (pi, REGULATOR),
]


def limits(module, settings, readings_c):
    """The limit at each reading in turn, from the policy's first state."""
    state, found = module.begin(settings), []
    for reading_c in readings_c:
        share, state = module.limit(settings, state, reading_c, PERIOD_S)
        found.append(share)
    return found


@pytest.mark.parametrize(("module", "settings"), BUILT_IN, ids=lambda x: getattr(x, "__name__", ""))
def test_numba_compiles_each_policy(module, settings):
    """Compiled, a policy gives the same limits as under the interpreter."""
    compiled = numba.njit(module.limit)
    state = module.begin(settings)
    for reading_c in (20.0, 55.0, 65.0, 75.0, 61.0, 48.0):
        actual = compiled(settings, state, reading_c, PERIOD_S)
        desired = module.limit(settings, state, reading_c, PERIOD_S)
        np.testing.assert_allclose(actual[0], desired[0], atol=ROUNDING)
        state = desired[1]


def test_open_loop_never_limits():
    """Without a policy the limit is 1 at every reading."""
    assert limits(open_loop, open_loop.Settings(), (-40.0, 25.0, 300.0)) == [1.0, 1.0, 1.0]


@pytest.mark.parametrize(
    ("reading_c", "desired"), [(20, 1.0), (50, 1.0), (55, 0.775), (60, 0.55), (70, 0.1), (90, 0.1)]
)
def test_foldback_is_a_straight_line(reading_c, desired):
    """Rising: 1 up to start, halfway at the middle, floor from end on."""
    assert math.isclose(limits(foldback, FOLD, [float(reading_c)])[0], desired, abs_tol=ROUNDING)


def test_foldback_hysteresis_is_a_backlash():
    """Light stays while the reading falls within the hysteresis, then follows 3 K behind."""
    rising, within, edge, beyond = limits(foldback, FOLD, (60.0, 58.0, 57.0, 55.0))
    assert rising == within == edge
    assert math.isclose(beyond, limits(foldback, FOLD, [58.0])[0], abs_tol=ROUNDING)


def test_foldback_gives_all_light_back():
    """No hysteresis keeps the limit below 1 for good: start - hysteresis releases fully."""
    assert limits(foldback, FOLD, (90.0, 47.0))[1] == 1.0


def test_foldback_without_hysteresis_has_no_memory():
    """With hysteresis 0 the limit depends on the reading alone."""
    plain = FOLD._replace(hysteresis_k=0.0)
    down = limits(foldback, plain, np.arange(80.0, 40.0, -0.5))
    assert down == limits(foldback, plain, np.arange(40.5, 80.5, 0.5))[::-1]


def test_steps_engage_at_their_threshold():
    """At 59.99 degC one level is engaged, at 60 degC two."""
    assert limits(steps, LEVELS, (49.99, 50.0, 59.99, 60.0, 70.0)) == [1.0, 0.75, 0.75, 0.5, 0.125]


def test_steps_release_at_threshold_less_hysteresis():
    """At 56.01 degC the 60 degC level still holds, at 56.00 degC it is released."""
    assert limits(steps, LEVELS, (60.0, 56.01, 56.0, 46.01, 46.0)) == [0.5, 0.5, 0.75, 0.75, 1.0]


@pytest.mark.parametrize("hysteresis_k", [0.0, 0.5, 4.0, 9.0])
def test_steps_never_latch(hysteresis_k):
    """After any heat every level is released a hysteresis below its own threshold."""
    levels = LEVELS._replace(hysteresis_k=hysteresis_k)
    assert limits(steps, levels, (90.0, 50.0 - max(hysteresis_k, 0.01)))[1] == 1.0


def test_steps_do_not_chatter_without_hysteresis():
    """A reading that rests exactly on a threshold gives one limit, not two in turn."""
    plain = LEVELS._replace(hysteresis_k=0.0)
    assert set(limits(steps, plain, [60.0] * 6)) == {0.5}
    assert limits(steps, plain, (60.0, 59.99)) == [0.5, 0.75]


def test_pi_holds_the_setpoint_against_a_first_order_plant():
    """A lamp that would rest at 100 degC is held at the setpoint with the light that allows it."""
    board_c, state, share = 25.0, pi.begin(REGULATOR), 1.0
    for _ in range(20000):
        share, state = pi.limit(REGULATOR, state, board_c, PERIOD_S)
        board_c += PERIOD_S * (25.0 + 75.0 * share - board_c) / 60.0
    assert abs(board_c - REGULATOR.setpoint_c) < 0.01
    assert abs(share - 35.0 / 75.0) < 0.001


def test_pi_stores_nothing_up_while_cold():
    """An hour of cold leaves the same limit at the setpoint as no cold at all."""
    cold = limits(pi, REGULATOR, [0.0] * 36000 + [61.0])
    assert cold[-1] == limits(pi, REGULATOR, [61.0])[-1]


def test_pi_stores_nothing_up_at_its_floor():
    """An hour of heat beyond help delays the light's return no more than a minute of it does."""

    def steps_to_full(heat_steps):
        course = itertools.chain([100.0] * heat_steps, [50.0] * 4000)
        return next(
            i for i, share in enumerate(limits(pi, REGULATOR, course)[heat_steps:]) if share == 1.0
        )

    assert steps_to_full(36000) == steps_to_full(600)


def test_pi_stays_between_floor_and_one():
    """No reading takes the limit below floor or above 1."""
    found = limits(pi, REGULATOR, [-40.0, 300.0, 60.0, 300.0, 300.0, -40.0] * 50)
    assert min(found) == pytest.approx(REGULATOR.floor, abs=ROUNDING)
    assert max(found) == 1.0
