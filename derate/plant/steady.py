"""The least steady state of the heated places, found from below.

With x the temperatures [degC] of the places that heat inputs enter, q their heat [W], a the
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
from derate.plant.heat import corrections_w
from derate.plant.ripple import crest
from derate.plant.surface.exchange import Exchange

Array = NDArray[np.float64]

RUNAWAY_C = 1000.0
"""No lamp is hotter: the search ends where it passes this."""
EXACT_K = 1e-9
"""Largest miss of a rest [K]: far below what a thermistor or a table can show."""
STRIDE_K = 30.0
"""Longest stride [K]: curves of an emitter hardly bend within it."""
TURNED = 0.5
"""A stride back is at most this share of the one before [-], lest it goes to and fro at a kink."""
MOST_STRIDES = 2000
"""More are needed only where rest and runaway touch; such a lamp counts as running away."""
PROBE_K = 0.01
"""Step of the differences that give slopes [K]: rounding and curvature both stay under 1e-8."""
SLOW = 0.1
"""Slopes are found anew when a stride leaves more than this share of the miss."""


class Standing(NamedTuple):
    """What is constant at rest, for U heat inputs, junctions first, surfaces and patterns last.

    ``transfer`` (U, U) [K/W]; ``from_ambient`` (U, M) [-]; ``sensor``: the first sensor's input;
    ``airflow`` [-].
    """

    emission: Emission
    exchange: Exchange
    transfer: Array
    from_ambient: Array
    sensor: int
    airflow: float


class Acting(NamedTuple):
    """What acts: per channel [0..1], per sensor [W], per ambient [degC]."""

    duties: Array
    sensor_heat_w: Array
    ambient_c: Array


class Found(NamedTuple):
    """What is filled: ``x`` and ``heat_w`` (U), ``output`` as of the emission, ``slopes`` (U, U).

    ``slopes`` [W/K]: of every heat input (rows) by every temperature (columns).
    """

    x: Array
    heat_w: Array
    output: Array
    slopes: Array


NO_REST, REST, DOUBTFUL, TOO_HOT = range(4)
"""What a search ends with; in doubt is a rest at which a watt more could cool some node, too hot a
lamp whose warming never fed itself on the way to RUNAWAY_C."""


@compiled
def settle(standing: Standing, lit: Lit, acting: Acting, found: Found) -> int:
    """Carry ``found.x`` [degC] up to the least rest; says whether there is one."""
    x, inputs = found.x, len(found.x)
    offset = standing.from_ambient @ acting.ambient_c
    causes = np.empty((inputs, 2))
    plain = inputs - len(standing.exchange.cubes)
    causes[:, 1] = standing.transfer[:, :plain].sum(axis=1)
    before, longest, fed = 0.0, STRIDE_K, False
    stride = np.zeros(inputs)
    for _ in range(MOST_STRIDES):
        _heat(standing, lit, acting, x, found.heat_w, found.output)
        causes[:, 0] = offset + standing.transfer @ found.heat_w - x
        worst = np.abs(causes[:, 0]).max()
        rested = worst <= EXACT_K
        if rested or not worst <= SLOW * before:
            _slopes(standing, lit, acting, x, found.slopes, found.output)
        before = worst
        loop = np.eye(inputs) - standing.transfer @ found.slopes
        step = np.linalg.solve(loop, causes)
        stays = step[:plain, 1].min() > 0.0
        if rested:
            _heat(standing, lit, acting, x, found.heat_w, found.output)
            return REST if stays and np.linalg.slogdet(loop)[0] > 0.0 else DOUBTFUL
        if not stays:
            fed = True
            falling = np.diag(np.minimum(np.diag(found.slopes), 0.0))
            step = np.linalg.solve(np.eye(inputs) - standing.transfer @ falling, causes)
        ahead = np.ascontiguousarray(step[:, 0])
        far = np.abs(ahead).max()
        if stride @ ahead < 0.0:
            longest = min(longest, TURNED * np.abs(stride).max())
        if far > longest:
            before = 0.0
        stride[:] = ahead * min(1.0, longest / far)
        x += stride
        if not x.max() < RUNAWAY_C:
            return NO_REST if fed else TOO_HOT
    return NO_REST


@compiled
def _heat(
    standing: Standing, lit: Lit, acting: Acting, x: Array, heat_w: Array, output: Array
) -> None:
    """Every heat input at the temperatures ``x`` [degC]."""
    emit(standing.emission, lit, x, acting.duties, acting.duties, heat_w, output)
    for s in range(len(acting.sensor_heat_w)):
        heat_w[standing.sensor + s] = acting.sensor_heat_w[s]
    _shed(standing, acting, x, heat_w)


@compiled
def _shed(standing: Standing, acting: Acting, x: Array, heat_w: Array) -> None:
    """The heat inputs of surfaces and their patterns alone."""
    exchange = standing.exchange
    first = len(x) - len(exchange.node) - len(exchange.cubes)
    for s in range(len(exchange.node)):
        corrections_w(exchange, s, x[first:], acting.ambient_c, standing.airflow, heat_w[first:])


@compiled
def _slopes(
    standing: Standing, lit: Lit, acting: Acting, x: Array, slopes: Array, output: Array
) -> None:
    """What emitters and losses gain with each junction, and surfaces with what they follow."""
    slopes[:] = 0.0
    warmer, cooler = np.zeros(len(x)), np.zeros(len(x))
    probed = x.copy()
    for g in range(standing.sensor):
        probed[g] = x[g] + PROBE_K
        emit(standing.emission, lit, probed, acting.duties, acting.duties, warmer, output)
        probed[g] = x[g] - PROBE_K
        emit(standing.emission, lit, probed, acting.duties, acting.duties, cooler, output)
        probed[g] = x[g]
        slopes[:, g] = (warmer - cooler) / (2.0 * PROBE_K)
    first = len(x) - len(standing.exchange.node) - len(standing.exchange.cubes)
    for u in range(first, len(x)):
        probed[u] = x[u] + PROBE_K
        _shed(standing, acting, probed, warmer)
        probed[u] = x[u] - PROBE_K
        _shed(standing, acting, probed, cooler)
        probed[u] = x[u]
        slopes[first:, u] = (warmer[first:] - cooler[first:]) / (2.0 * PROBE_K)


@compiled
def crests_k(
    rate: Array, drive: Array, response: Array, period_s: float, duty: Array, heat_w: Array
) -> Array:
    """Crest of the PWM ripple of G junctions [K], as the plant takes it step by step.

    ``rate`` (n) [1/s], ``drive`` (G, n) and ``response`` (n, G) of the modes; per junction ``duty``
    and mean ``heat_w`` [W].
    """
    found = np.zeros(len(duty))
    for i in range(len(rate)):
        push, known, height = 0.0, -1.0, 0.0
        for g in range(len(duty)):
            if 0.0 < duty[g] < 1.0:
                if duty[g] != known:
                    known = duty[g]
                    height = period_s * crest(rate[i] * period_s, known) / known
                push += drive[g, i] * heat_w[g] * height
        for g in range(len(duty)):
            found[g] += response[i, g] * push
    return found
