"""The least steady state of the heated places, found from below.

With x the temperatures [degC] of the nodes that heat inputs enter, q their heat [W], a the
ambients [degC], ``transfer`` R [K/W] and ``from_ambient`` S [-] of the network at rest,

    x = S a + R q(x)

Heat mostly rises with temperature, so there may be no rest, or several: the lamp that warms up
from cold stops at the least. The search starts at the coldest ambient and goes up by Newton's
method, in strides short enough not to leap over a rest. Where warming feeds itself (a watt more in
every input would cool some node, as Newton's method sees it) it goes up as the heat allows, only
the part of it that falls with temperature taken beforehand.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.plant.emission import Emission, Lit, emit

Array = NDArray[np.float64]

RUNAWAY_C = 1000.0
"""No lamp is hotter: what passes this has no rest."""
EXACT_K = 1e-9
"""Largest miss of a rest [K]: far below what a thermistor or a table can show."""
STRIDE_K = 30.0
"""Longest stride [K]: curves of an emitter hardly bend within it."""
MOST_STRIDES = 2000
"""More are needed only where rest and runaway touch; such a lamp counts as running away."""
PROBE_K = 0.01
"""Step of the differences that give slopes [K]: rounding and curvature both stay under 1e-8."""
SLOW = 0.1
"""Slopes are found anew when a stride leaves more than this share of the miss."""


class Standing(NamedTuple):
    """What is constant at rest, for U heat inputs, junctions first, and M ambients.

    ``transfer`` (U, U) [K/W]; ``from_ambient`` (U, M) [-]; ``sensor``: the first sensor's input.
    """

    emission: Emission
    transfer: Array
    from_ambient: Array
    sensor: int


@compiled
def settle(
    standing: Standing,
    lit: Lit,
    duties: Array,
    sensor_heat_w: Array,
    ambient_c: Array,
    x: Array,
    heat_w: Array,
    output: Array,
    slopes: Array,
) -> bool:
    """Carry ``x`` [degC] up to the least rest; whether there is one.

    Fills ``heat_w`` (U), ``output`` (rows of ``derate.plant.emission``) and ``slopes`` (U, U), the
    derivative of each heat input [W/K], at the rest.
    """
    inputs = len(x)
    offset = standing.from_ambient @ ambient_c
    everywhere = standing.transfer.sum(axis=1)
    causes = np.empty((inputs, 2))
    step = np.empty((inputs, 2))
    before = 0.0
    for _ in range(MOST_STRIDES):
        _heat(standing, lit, duties, sensor_heat_w, x, heat_w, output)
        miss = offset + standing.transfer @ heat_w - x
        worst = np.abs(miss).max()
        if worst <= EXACT_K:
            _slopes(standing, lit, duties, sensor_heat_w, x, slopes, output)
            _heat(standing, lit, duties, sensor_heat_w, x, heat_w, output)
            return True
        if not worst <= SLOW * before:
            _slopes(standing, lit, duties, sensor_heat_w, x, slopes, output)
        before = worst
        causes[:, 0], causes[:, 1] = miss, everywhere
        step = np.linalg.solve(np.eye(inputs) - standing.transfer @ slopes, causes)
        if not step[:, 1].min() > 0.0:
            falling = np.diag(np.minimum(np.diag(slopes), 0.0))
            step = np.linalg.solve(np.eye(inputs) - standing.transfer @ falling, causes)
        longest = np.abs(step[:, 0]).max()
        x += step[:, 0] * min(1.0, STRIDE_K / longest)
        if not x.max() < RUNAWAY_C:
            return False
    return False


@compiled
def _heat(
    standing: Standing,
    lit: Lit,
    duties: Array,
    sensor_heat_w: Array,
    x: Array,
    heat_w: Array,
    output: Array,
) -> None:
    """Every heat input at the temperatures ``x`` [degC]."""
    emit(standing.emission, lit, x, duties, duties, heat_w, output)
    for s in range(len(sensor_heat_w)):
        heat_w[standing.sensor + s] = sensor_heat_w[s]


@compiled
def _slopes(
    standing: Standing,
    lit: Lit,
    duties: Array,
    sensor_heat_w: Array,
    x: Array,
    slopes: Array,
    output: Array,
) -> None:
    """The derivative [W/K] of every heat input (rows) by every temperature (columns)."""
    warmer, cooler = np.zeros(len(x)), np.zeros(len(x))
    probed = x.copy()
    for k in range(len(x)):
        probed[k] = x[k] + PROBE_K
        _heat(standing, lit, duties, sensor_heat_w, probed, warmer, output)
        probed[k] = x[k] - PROBE_K
        _heat(standing, lit, duties, sensor_heat_w, probed, cooler, output)
        probed[k] = x[k]
        slopes[:, k] = (warmer - cooler) / (2.0 * PROBE_K)
