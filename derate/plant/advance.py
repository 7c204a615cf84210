"""The plant over an interval of constant duties, requests and ambients.

The network moves exactly under constant heat. The heat itself depends on the temperatures of
junctions and surfaces, so the interval is cut into steps: over each, the heat is held at its value
for the mean temperatures that the heat at the step's beginning would give. A step is good if the
heat at its end differs so little from what was held that no temperature could have moved by more
than the tolerance,

    sum over inputs of |q(end) - q(held)| * RISE(h) <= tolerance;

otherwise it is cut shorter, and steps grow again after the fast modes have settled. Everything
that is booked is exact for the heat held: stored energy + heat into the ambients = heat put in.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.factors import factors
from derate.plant.kernel import kernel
from derate.plant.modes import Modes
from derate.plant.stack import taken
from derate.plant.state import BEGIN, Interval, Machine, State, project
from derate.plant.step import begin, book, try_step
from derate.plant.tally import Tally

Array = NDArray[np.float64]

SHORTEST_S = 1e-9
"""Steps are not cut below this length [s]."""
RUNAWAY_C = 5000.0
"""Above it no shorter step helps: the lamp runs away [degC]."""
MOST_CUTS = 6
"""A step is halved at most this often at once."""


@kernel
def _hottest_c(state: State) -> float:
    """The highest temperature [degC] at the beginning of a step."""
    hottest_c = state.node_c[BEGIN, 0]
    for j in range(1, state.node_c.shape[1]):
        hottest_c = max(hottest_c, state.node_c[BEGIN, j])
    return hottest_c


@kernel
def advance(
    machine: Machine,
    modes: Modes,
    state: State,
    tally: Tally,
    interval: Interval,
    dt_s: float,
    max_step_s: float,
    tolerance_k: float,
) -> None:
    """Advance ``state`` by ``dt_s`` [s] and book it in ``tally``.

    ``max_step_s`` [s] caps the steps; ``tolerance_k`` [K] is the error allowed in each of them.
    """
    begin(machine, modes, state, interval)
    done = 0.0
    h = min(dt_s, max_step_s)
    while done < dt_s:
        left = dt_s - done
        last = h >= left * (1.0 - 1e-12)
        if last:
            h = left
        slot = state.steps[factors(modes, state.steps, h)]
        miss_k = try_step(machine, modes, state, interval, slot)
        if miss_k > tolerance_k and h > SHORTEST_S and _hottest_c(state) < RUNAWAY_C:
            cuts = min(MOST_CUTS, max(1, int(np.ceil(0.5 * np.log2(miss_k / tolerance_k)))))
            h *= 0.5**cuts
            continue
        book(machine, modes, state, tally, interval, slot, h)
        done = dt_s if last else done + h
        if 4.0 * miss_k < tolerance_k:
            h = min(2.0 * h, max_step_s)


@kernel
def replay(
    machine: Machine,
    stack: Modes,
    which: NDArray[np.int64],
    state: State,
    tally: Tally,
    intervals: Interval,
    dt_s: Array,
    finer: float,
    tolerance_k: float,
    node_c: Array,
) -> None:
    """Advance through recorded intervals; ``node_c`` (K, N) receives the temperatures after each.

    ``stack``: the modes of all configurations, one above the other; ``which`` (K): the
    configuration of each interval; ``intervals``: an ``Interval`` with one row each; ``finer``:
    largest step as a fraction of the interval [-].
    """
    for k in range(len(dt_s)):
        c = which[k]
        modes: Modes = taken(stack, c)
        if k == 0 or c != which[k - 1]:
            project(modes, state)
        interval = Interval(
            intervals.duties[k],
            intervals.requests[k],
            intervals.ambient_c[k],
            intervals.sensor_heat_w[k],
            intervals.airflow[k],
        )
        advance(machine, modes, state, tally, interval, dt_s[k], finer * dt_s[k], tolerance_k)
        for j in range(node_c.shape[1]):
            node_c[k, j] = state.node_c[BEGIN, j]
