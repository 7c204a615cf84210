"""The ripple of a step: the crests of junctions above their mean, and a bound on them.

The crest of a mode is c(x, d) as in ``derate.plant.ripple``. Over d it is largest where
e^(-x d) = m with m = (1 - e^-x) / x, and there

    c = ((1 - m) / (1 - e^-x) + ln m / x) / x        which for x -> 0 becomes 1/8

so that no crest of junction j exceeds the sum over the switched inputs u of their heat while on
times ``swell`` (u, j), the sum over modes of |drive response| P c. Where even that bound cannot
reach a peak or a limit the crest itself is not needed.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import END, FIRST
from derate.plant.kernel import inlined, kernel
from derate.plant.modes import Modes
from derate.plant.ripple import CREST, SHORT, crests
from derate.plant.state import HELD, Interval, Machine, State

Array = NDArray[np.float64]

LARGEST_TRIANGLE = 0.125
"""c of a slow mode, at half duty [-]."""
ABOVE = 1.0 + 1e-4
"""Factor on the bound for rounding and for x below ``SHORT`` [-]."""


@kernel
def largest_crest(x: float) -> float:
    """The largest c(x, d) over all duties d [-]."""
    if x < SHORT:
        return LARGEST_TRIANGLE
    fallen = -np.expm1(-x)
    mean = fallen / x
    return ((1.0 - mean) / fallen + np.log(mean) / x) / x


@kernel
def fill(machine: Machine, modes: Modes, swell_k_per_w: Array) -> None:
    """Fill ``swell_k_per_w`` (G, G): what a watt while on moves each junction at most [K/W]."""
    groups = swell_k_per_w.shape[0]
    for u in range(groups):
        for g in range(groups):
            swell_k_per_w[u, g] = 0.0
    for i in range(modes.rate.shape[0]):
        height = ABOVE * machine.period_s * largest_crest(modes.rate[i] * machine.period_s)
        for u in range(groups):
            push = abs(modes.drive[u, i]) * height
            for g in range(groups):
                swell_k_per_w[u, g] += push * abs(modes.response[i, machine.junction + g])


@inlined
def bound(machine: Machine, modes: Modes, state: State, interval: Interval) -> None:
    """Fill ``state.ripple_k`` with what no crest of the step exceeds [K]."""
    emission = machine.emission
    groups = state.ripple_k.shape[0]
    for g in range(groups):
        state.ripple_k[g] = 0.0
    if machine.period_s == 0.0:
        return
    if np.isnan(state.swell_k_per_w[0, 0]):
        fill(machine, modes, state.swell_k_per_w)
    for c in range(emission.channel_of.shape[0]):
        duty = interval.duties[c]
        if duty <= 0.0 or duty >= 1.0:
            continue
        for b in range(emission.channel_of[c, FIRST], emission.channel_of[c, END]):
            for u in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
                on_heat_w = state.cause[HELD, modes.rate.shape[0] + u] / duty
                for g in range(groups):
                    state.ripple_k[g] += on_heat_w * state.swell_k_per_w[u, g]


@kernel
def bring_ripple(machine: Machine, modes: Modes, state: State, interval: Interval) -> None:
    """Fill ``state.ripple_k``: crest of every junction above its mean under the heat of the step.

    ``state.push`` is made use of: how far each mode is above its mean.
    """
    emission, push, count = machine.emission, state.push, modes.rate.shape[0]
    for g in range(state.ripple_k.shape[0]):
        state.ripple_k[g] = 0.0
    rippling = False
    for c in range(emission.channel_of.shape[0]):
        duty = interval.duties[c]
        if machine.period_s == 0.0 or duty <= 0.0 or duty >= 1.0:
            continue
        if not rippling:
            for i in range(count):
                push[i] = 0.0
        rippling = True
        slot = state.crests[crests(modes, state.crests, machine.period_s, duty)]
        for b in range(emission.channel_of[c, FIRST], emission.channel_of[c, END]):
            for g in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
                on_heat_w = state.cause[HELD, count + g] / duty
                for i in range(count):
                    push[i] += modes.drive[g, i] * on_heat_w * slot[CREST, i]
    if rippling:
        for i in range(count):
            for g in range(state.ripple_k.shape[0]):
                state.ripple_k[g] += modes.response[i, machine.junction + g] * push[i]
