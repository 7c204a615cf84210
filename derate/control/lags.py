"""Low-passes that a small firmware can hold, and the few of them that fit step responses best."""

import functools
import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LARGEST_SHIFT = 20
LAGS = 4
"""Words of memory a channel, always, so that firmware of other settings has the same memory."""
TIME_CONSTANTS = 30
"""Time constants to choose from, from one control period to the slowest of the lamp."""
STEADY = 10.0
"""Weight of the rise that stays, for which light is held back longest [-]."""
RIDGE = 0.05
"""Holds gains of nearly equal lags small [-]; rises are in K and weights of order 1."""


class Lag(NamedTuple):
    """alpha = mantissa / 2^(16 + shift): share of a difference that goes by in a period."""

    mantissa: int
    shift: int
    time_constant_s: float

    @property
    def kept(self) -> float:
        """Share of a difference that is left after a period [-]."""
        return 1.0 - self.mantissa / 2.0 ** (16 + self.shift)


def lag_of(time_constant_s: float, period_s: float) -> Lag:
    """The lag of a time constant [s], as close as the integers come."""
    alpha = -math.expm1(-period_s / time_constant_s)
    shift = min(LARGEST_SHIFT, max(0, math.floor(-math.log2(alpha))))
    mantissa = min(0xFFFF, max(1, round(alpha * 2.0 ** (16 + shift))))
    return Lag(mantissa, shift, time_constant_s)


def fitted(
    rise_k: Array, periods: Array, period_s: float, slowest_s: float
) -> tuple[tuple[Lag, ...], Array]:
    """The lags and gains (P, C, K) [K] of rises (P, C, I) [K] with the least bound, lag by lag.

    One lag is added at a time, the best; then each is changed for a better one while there is one.
    """
    row = [
        lag_of(tau_s, period_s)
        for tau_s in np.geomspace(period_s, max(2.0 * period_s, slowest_s), TIME_CONSTANTS)
    ]
    later_k = rise_k - np.maximum(rise_k[:, :, :1], 0.0)

    @functools.cache
    def fit(chosen: frozenset[int]) -> tuple[float, Array]:
        passed = shares([row[at] for at in sorted(chosen)], periods)
        gain_k = _gains_k(later_k, passed)
        return float(climbs_k(later_k - gain_k @ passed.T).sum(axis=1).max()), gain_k

    chosen: frozenset[int] = frozenset()
    while len(chosen) < LAGS:
        others = set(range(TIME_CONSTANTS)) - chosen
        chosen = min((chosen | {at} for at in others), key=lambda some: fit(some)[0])
        better = chosen
        while better:
            chosen, best = better, fit(better)[0]
            swaps = (chosen - {out} | {at} for out, at in itertools.product(chosen, others))
            better = min((s for s in swaps if len(s) == len(chosen)), key=lambda s: fit(s)[0])
            better = better if fit(better)[0] < best else frozenset()
    return tuple(row[at] for at in sorted(chosen)), fit(chosen)[1]


def shares(lags: Sequence[Lag], periods: Array) -> Array:
    """x after so many periods of full duty (I, K)."""
    return 1.0 - np.array([lag.kept for lag in lags]) ** periods[:, None]


def _gains_k(later_k: Array, shares: Array) -> Array:
    """Least squares: gains (P, C, K) [K] by which the shares make the rises (P, C, I) [K]."""
    weight = np.ones(len(shares))
    weight[-1] = STEADY
    rows = np.vstack((shares * weight[:, None], RIDGE * np.eye(shares.shape[1])))
    due = np.pad((later_k * weight).reshape(-1, len(weight)).T, ((0, shares.shape[1]), (0, 0)))
    found = np.asarray(np.linalg.lstsq(rows, due, rcond=None)[0], float)
    return found.T.reshape(*later_k.shape[:2], -1)


def climbs_k(step_k: Array) -> Array:
    """Sum of all climbs of step responses (P, C, I) along their last axis (P, C) [K]."""
    climbs: Array = np.maximum(np.diff(step_k, axis=2), 0.0).sum(axis=2)
    return climbs
