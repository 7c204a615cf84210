"""The exact value of a bound, tick by tick backwards from its end.

Weak duality, with the ticks of the firmware as they are: tick k sees a reading y_k and gives a
limit L_k, which holds for one period; L_k <= height_i - slope_i y_k for every line i. For prices
m_ki >= 0 of these, the temperature at the end is at most

    T + sum over k, i of m_ki (height_i - slope_i y_k - L_k),

a linear function of all heat and all limits, each of which then takes the end of its range that is
worst. The price of heat is what a watt adds to T, less what it costs by raising readings later
on: ``p``, the adjoint of the modes, which goes backwards from the end, falls by the slopes at
every sample, and decays in between. Heat that the wind takes, no more than in proportion to how
warm its place is, has prices in the same way. Any prices give a bound; ``dual`` looks for good
ones.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.kernel import kernel

Array = NDArray[np.float64]

HIGH, LOW, PER_K, TAKEN, LATE_W = range(5)
"""Rows of ``free``: most and least heat that may come without duty [W], what the former gains per
kelvin of its ambient, what may be taken away per kelvin of its place above that [W/K], and by how
much more as the place warms up within a period [W]."""


class Case(NamedTuple):
    """What a bound is computed from, for the kernel.

    n modes, U heat inputs, M ambients, C channels, S sensors, I lines, K ticks, J knots of shares.
    ``rate`` (n); ``drive`` (U + M, n); ``sensed`` (S, n + U + M): response of the sensors' bodies;
    ``most_w``, ``least_w`` (C, U); ``free`` (5, U); ``whose`` (U); ``slope``, ``height`` (I):
    of lines against the temperature of the body of ``sensor`` (I); ``wind`` (W): heat inputs with a
    price, ``felt`` (W, n + U + M): response of their places; ``knots`` (C, J): share of each
    channel at even limits; ``period_s``, ``last_s`` [s]: of the ticks, and of the last one until
    the end; ``smooth``: weight of the newest sample in the filter.
    """

    rate: Array
    drive: Array
    sensed: Array
    most_w: Array
    least_w: Array
    free: Array
    whose: NDArray[np.int64]
    slope: Array
    height: Array
    sensor: NDArray[np.int64]
    wind: NDArray[np.int64]
    felt: Array
    knots: Array
    period_s: float
    last_s: float
    smooth: float


class Walk(NamedTuple):
    """Where the walk backwards is: ``p`` (n), price of the modes, and that at the begin of the
    hold, ``before`` (n); ``decay``, ``held`` (n) [-, s] of a hold; ``pending`` (U + M): prices of
    what acts at once at the end of the hold; ``gain`` (C): worth of full light in it; ``ambient``
    (M) [-]: price of the ambients so far; ``hanging`` (S): price of the filter's state; ``blown``
    (U): price of the wind at a tick."""

    p: Array
    before: Array
    decay: Array
    held: Array
    pending: Array
    gain: Array
    ambient: Array
    hanging: Array
    blown: Array


def walk_of(case: Case, target: Array) -> Walk:
    """The walk at its begin; ``target`` (n + U + M): response of the node whose end it is."""
    modes, causes = len(case.rate), len(case.drive)
    return Walk(
        target[:modes].copy(),
        np.zeros(modes),
        np.zeros(modes),
        np.zeros(modes),
        target[modes : modes + causes].copy(),
        np.zeros(len(case.most_w)),
        np.zeros(causes - case.most_w.shape[1]),
        np.zeros(len(case.sensed)),
        np.zeros(case.most_w.shape[1]),
    )


@kernel
def value(case: Case, walk: Walk, prices: Array) -> float:
    """The part of the bound that does not depend on ambients [K]; the walk ends at the begin.

    ``prices`` (K, I + W): of the lines [K] and of the wind [K/W] at each tick, counted backwards.
    """
    total, inputs = 0.0, case.most_w.shape[1]
    for k in range(prices.shape[0]):
        h = case.last_s if k == 0 else case.period_s
        if k < 2:
            for i in range(walk.p.shape[0]):
                x = case.rate[i] * h
                walk.decay[i] = np.exp(-x)
                walk.held[i] = h if x < 1e-12 else h * (-np.expm1(-x) / x)
        for i in range(walk.p.shape[0]):
            walk.before[i] = walk.p[i] * walk.decay[i]
        for c in range(walk.gain.shape[0]):
            walk.gain[c] = 0.0
        for w in range(case.wind.shape[0]):
            walk.blown[case.wind[w]] = prices[k, case.slope.shape[0] + w]
        for u in range(case.drive.shape[0]):
            total += _heat(case, walk, u, h)
        total += _limit(case, walk, prices[k])
        _sample(case, walk)
        total += _wind(case, walk)
    for m in range(walk.ambient.shape[0]):
        walk.ambient[m] += walk.pending[inputs + m]
    return total


@kernel
def _heat(case: Case, walk: Walk, u: int, h: float) -> float:
    """What heat input or ambient ``u`` is worth in a hold of ``h`` [s] without duty [K].

    What it gives for duty goes to ``gain``. Between its ends a price is taken to stay between them.
    """
    over, first, last, inputs = 0.0, 0.0, 0.0, case.most_w.shape[1]
    for i in range(walk.p.shape[0]):
        over += case.drive[u, i] * walk.p[i] * walk.held[i]
        first += case.drive[u, i] * walk.before[i]
        last += case.drive[u, i] * walk.p[i]
    if u >= inputs:
        walk.ambient[u - inputs] += over + walk.pending[u]
        return 0.0
    over, first, last = over + walk.blown[u], first + walk.blown[u] / h, last + walk.blown[u] / h
    cold = 0.0
    if first <= 0.0 and last <= 0.0:
        cold = -over
    elif first < 0.0 or last < 0.0:
        cold = h * max(-first, -last)
    warm = over + cold
    if walk.pending[u] > 0.0:
        warm += walk.pending[u]
    else:
        cold -= walk.pending[u]
    walk.ambient[case.whose[u]] += warm * case.free[PER_K, u]
    for c in range(walk.gain.shape[0]):
        walk.gain[c] += warm * case.most_w[c, u] - cold * case.least_w[c, u]
    return warm * case.free[HIGH, u] - cold * case.free[LOW, u]


@kernel
def _limit(case: Case, walk: Walk, prices: Array) -> float:
    """What the limit of a tick is worth, with the lines at their prices [K]."""
    channels, knots = case.knots.shape
    total, paid, best = 0.0, 0.0, 0.0
    for s in range(walk.hanging.shape[0]):
        walk.hanging[s] *= 1.0 - case.smooth
    for i in range(case.slope.shape[0]):
        paid += prices[i]
        total += prices[i] * case.height[i]
        walk.hanging[case.sensor[i]] += prices[i] * case.slope[i]
    for j in range(knots):
        worth = -paid * j / (knots - 1.0)
        for c in range(channels):
            worth += max(walk.gain[c], 0.0) * case.knots[c, j]
        best = max(best, worth)
    return total + best


@kernel
def _sample(case: Case, walk: Walk) -> None:
    """Go through the sample at the begin of a hold: it makes heat before it dearer."""
    modes = walk.p.shape[0]
    for i in range(modes):
        walk.p[i] = walk.before[i]
    for u in range(walk.pending.shape[0]):
        walk.pending[u] = 0.0
    for s in range(walk.hanging.shape[0]):
        push = case.smooth * walk.hanging[s]
        for i in range(modes):
            walk.p[i] -= push * case.sensed[s, i]
        for u in range(walk.pending.shape[0]):
            walk.pending[u] -= push * case.sensed[s, modes + u]


@kernel
def _wind(case: Case, walk: Walk) -> float:
    """Let a place be warmer by what the wind may take, at its price; what is late of it [K]."""
    modes, inputs, total = walk.p.shape[0], case.most_w.shape[1], 0.0
    for w in range(case.wind.shape[0]):
        u = case.wind[w]
        push = walk.blown[u] * case.free[TAKEN, u]
        for i in range(modes):
            walk.p[i] += push * case.felt[w, i]
        for v in range(walk.pending.shape[0]):
            walk.pending[v] += push * case.felt[w, modes + v]
        walk.pending[inputs + case.whose[u]] -= push
        total += walk.blown[u] * case.free[LATE_W, u]
    return total
