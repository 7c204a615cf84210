"""The bound against the peak gain of a linear system, by the matrix exponential.

V. Balakrishnan, S. Boyd, "On computing the worst-case peak gain of linear systems", Systems &
Control Letters 19 (1992): the largest peak that an input within [-1, 1] can bring about is the
integral of |h|, h the impulse response; where h is nowhere negative, as between heat and the
temperature of a passive network, it is that of a constant input (the gain at rest).
"""

import numpy as np
import pytest
from scipy.linalg import expm

from derate.lamp import Lamp
from derate.limits.worst.bound import bound_of, case_of
from derate.limits.worst.law import law_of
from derate.limits.worst.span import Span
from derate.limits.worst.study import made_ready
from derate.limits.worst.ticks import value, walk_of
from tests.loop.lamps import SPOT, spot

AGREE_K = 1e-3
"""Between bound and integral [K]: that of the integral's own steps, and of the history's begin."""
AMBIENT_C = 30.0
PERIOD_S = 0.05
"""Of the firmware, in which a price that turns its sign counts at its worst all the time: so short
that this is nothing."""
TICKS = 60_000
"""So many reach back over twenty of the longest time constants."""
LAST_S, STEPS = 3000.0, 500
"""The same for the integral of |h|, in steps that are exact as long as h keeps its sign in them."""


CAPACITY_J_PER_K = np.array([8.0, 40.0, 0.15, 0.05])
"""Of board, sink, chips and thermistor."""
LINKS_W_PER_K = {(0, 1): 1 / 0.8, (0, 2): 3 / 3.0, (0, 3): 1 / 20.0}
"""Between them; three emitters stand in series."""
TO_AIR_W_PER_K = np.array([0.0, 1 / 3.0, 0.0, 0.0])
BOARD, SINK, CHIP, SENSOR = range(4)
PART = 0.5
"""The sink is compared with so much of the board [-]."""
MORE = 1.2
"""By so much the norm is larger than the gain at rest, at the least [-]."""
FULL_A = 0.5
"""A point of the curves, so that nothing hangs on how they run in between."""


@pytest.fixture(scope="module")
def ready():
    """Two nodes, chips whose heat knows no temperature, no policy, no cut-off within reach."""
    raw = spot(
        links=[
            {"between": ["board", "sink"], "resistance": 0.8},
            {"between": ["sink", "ambient"], "resistance": 3.0},
        ],
        controller={"policy": {"kind": "none"}, "cutoff": 124.0},
        timing={"control_period": PERIOD_S},
    )
    raw["emitters"]["white"] |= {"forward_voltage_slope": 0.0, "radiant_ratio": [1.0, 1.0, 1.0]}
    raw["emitters"]["white"]["junction_capacitance"] = CAPACITY_J_PER_K[CHIP] / 3.0
    raw["channels"]["spot"]["current"] = FULL_A
    lamp = Lamp.model_validate(raw)
    return made_ready(lamp, lamp, Span((AMBIENT_C, AMBIENT_C), (1.0, 1.0)), law_of(lamp))


@pytest.fixture(scope="module")
def responses():
    """Impulse responses of the four places to heat of chips and thermistor [K/J], and the times."""
    conductance = np.diag(TO_AIR_W_PER_K)
    for (one, other), w_per_k in LINKS_W_PER_K.items():
        conductance[[one, other], [one, other]] += w_per_k
        conductance[[one, other], [other, one]] -= w_per_k
    motion = -conductance / CAPACITY_J_PER_K[:, None]
    at_s = np.concatenate(([0.0], np.geomspace(1e-4, LAST_S, STEPS)))
    start = np.diag(1.0 / CAPACITY_J_PER_K)[:, [CHIP, SENSOR]]
    rises = _integrals(motion, at_s) @ start
    return at_s, np.diff(rises, axis=0)


def _integrals(motion, times_s):
    """Integrals of the matrix exponential from 0 to each time, by that of a matrix twice as large.

    Their differences are the integrals of h over steps, exact whatever their length.
    """
    size = len(motion)
    both = np.zeros((2 * size, 2 * size))
    both[:size, :size], both[:size, size:] = motion, np.eye(size)
    return expm(both * times_s[:, None, None])[:, :size, size:]


def _full_w():
    """Heat of the chips at full light: V I - flux, thrice."""
    white = SPOT["emitters"]["white"]
    volt, flux_w = (
        np.interp(FULL_A, white["current"], white[key])
        for key in ("forward_voltage", "radiant_flux")
    )
    return 3.0 * (volt * FULL_A - flux_w)


@pytest.mark.parametrize("place", [BOARD, SINK, CHIP, SENSOR])
def test_the_bound_is_the_norm_of_the_impulse_response(ready, responses, place):
    """Without a policy the bound is the ambient and heat times the integral of |h|."""
    of_chip, of_sensor = np.abs(responses[1][:, place]).sum(axis=0)
    found = bound_of(ready, place, (1.0,))
    desired_c = AMBIENT_C + _full_w() * of_chip + ready.linear.high_w[1] * of_sensor
    assert found.at_c == pytest.approx(desired_c, abs=AGREE_K)


def test_of_a_difference_the_norm_is_peak_to_peak(ready, responses):
    """Sink less half the board falls at first, then rises: the integral of |h| is what it spans."""
    answer = responses[1][:, SINK, 0] - PART * responses[1][:, BOARD, 0]
    norm = np.abs(answer).sum()
    assert norm > MORE * abs(answer.sum())
    response = ready.linear.modes.response
    target = response[:, SINK] - PART * response[:, BOARD]
    reach_k = sum(_peak_k(ready, np.ascontiguousarray(sign * target)) for sign in (1.0, -1.0))
    assert reach_k == pytest.approx(_full_w() * norm, abs=AGREE_K)


def _peak_k(ready, target):
    """The bound of a combination of places [K], of the chips' heat alone."""
    case = case_of(ready)
    free = np.zeros_like(case.free)
    prices = np.zeros((TICKS, len(case.slope)))
    return value(case._replace(free=free), walk_of(case, target), prices)
