"""The observer of the policy "predictive": what a lamp's network is to the firmware, in integers.

    rise_p(n) = sum over channels c of ( now_pc duty_c(n) + sum over lags k of gain_pck x_ck(n) )

    x_ck(n + 1) = x_ck(n) + alpha_k (duty_c(n) - x_ck(n))

is the rise of place p above the reading at the end of the coming control period. The gains fit
``derate.control.rises`` by least squares; the lags, few and shared by all places and channels, are
those of a row of time constants that leave the least bound on what the fit may miss.

The bound counts every history of duties: what rise and fit differ by after a step, e(i), can add up
to no more than the sum of its climbs, as a duty may be on just where e climbs. Likewise heat that
is less than assumed adds no more than the sum of the falls of F times what is missing. Both are
taken off the limits, with the crest of the PWM ripple, so that no estimate is below the network's.

After a start what was driven before is unknown. What it may still add n periods later is no more
than the climbs of F from n on, and so no more than ``unsure`` times a factor that fades with the
slowest time constant of the lamp.
"""

import functools
import itertools
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.rises import Rises, rises_of
from derate.errors import InputError
from derate.lamp.lamp import Lamp

Array = NDArray[np.float64]

CENTI = 100
ONE_Q15 = 32768
INT16_MAX = 0x7FFF
LARGEST_SHIFT = 20
LAGS = 4
"""Words of memory a channel, always, so that firmware of other settings has the same memory."""
TIME_CONSTANTS = 30
"""Time constants to choose from, from one control period to the slowest of the lamp."""
STEADY = 10.0
"""Weight of the rise that stays, for which light is held back longest [-]."""
RIDGE = 0.05
"""Holds gains of nearly equal lags small [-]; rises are in K and weights of order 1."""
ARITHMETIC_K = 0.02
"""What roundings may take from an estimate [K]: half a Q15 unit of each share, which is 0.005 K of
the 327 K that gains may add up to, the stall of a lag, and 0.01 K of the reading."""


class Lag(NamedTuple):
    """alpha = mantissa / 2^(16 + shift): share of a difference that goes by in a period."""

    mantissa: int
    shift: int
    time_constant_s: float

    @property
    def kept(self) -> float:
        """Share of a difference that is left after a period [-]."""
        return 1.0 - self.mantissa / 2.0 ** (16 + self.shift)


class Observer(NamedTuple):
    """``places`` (P): names; ``limit_c`` (P): what an estimate may reach [degC], ``missed_k`` (P)
    [K] of it taken off already; ``now`` (P, C) and ``gain`` (P, C, K): rises at full drive
    [0.01 K]; ``unsure`` (P): the most that heat from before a start may add; ``lags`` (K), and
    ``doubt``, by which that fades."""

    places: tuple[str, ...]
    limit_c: tuple[float, ...]
    missed_k: tuple[float, ...]
    now: tuple[tuple[int, ...], ...]
    gain: tuple[tuple[tuple[int, ...], ...], ...]
    unsure: tuple[int, ...]
    lags: tuple[Lag, ...]
    doubt: Lag


_KEPT: dict[str, Observer] = {}
MOST_KEPT = 4
"""Observers remembered, by all that they depend on: settings of a policy change more often."""


def observer_of(lamp: Lamp) -> Observer:
    """The observer of a lamp.

    Raises InputError where a lamp rises further than 16 bits hold.
    """
    rest: Any = {"profiles": True, "controller": {"policy"}, "tolerances": True}
    depends_on = lamp.model_dump_json(exclude=rest)
    if depends_on not in _KEPT:
        file = str(lamp.source) if lamp.source else lamp.name
        found = _observer(rises_of(lamp), lamp.timing.control_period_s, file)
        while len(_KEPT) >= MOST_KEPT:
            del _KEPT[next(iter(_KEPT))]
        _KEPT[depends_on] = found
    return _KEPT[depends_on]


def lag_of(time_constant_s: float, period_s: float) -> Lag:
    """The lag of a time constant [s], as close as the integers come."""
    alpha = -math.expm1(-period_s / time_constant_s)
    shift = min(LARGEST_SHIFT, max(0, math.floor(-math.log2(alpha))))
    mantissa = min(0xFFFF, max(1, round(alpha * 2.0 ** (16 + shift))))
    return Lag(mantissa, shift, time_constant_s)


def _observer(rises: Rises, period_s: float, file: str) -> Observer:
    lags, gain_k = _fitted(rises, period_s)
    now = np.ceil(np.maximum(rises.rise_k[:, :, 0], 0.0) * CENTI)
    gain = np.ceil(gain_k * CENTI)
    fading = np.exp(rises.periods[1:] * period_s / rises.slowest_s)
    unsure = np.ceil((_left_k(rises.rise_k) * fading).max(axis=1) * CENTI)
    total = np.maximum(np.abs(gain).sum(axis=(1, 2)) + unsure, now.sum(axis=1))
    for place, rise in zip(rises.places, total, strict=True):
        if rise > INT16_MAX:
            raise InputError(
                f'{file}: controller.policy.kind: found "predictive" for {place.name}, which may'
                f" rise {rise / CENTI:.0f} K above the reading, due at most 327 K"
            )
    fit_k = gain / CENTI @ _shares(lags, rises.periods).T
    missed_k = (
        _climbs_k(rises.rise_k - now[:, :, None] / CENTI - fit_k).sum(axis=1)
        + _climbs_k(-rises.rise_k) @ rises.short
        + rises.crest_k
        + ARITHMETIC_K
    )
    return Observer(
        tuple(place.name for place in rises.places),
        tuple(place.limit_c for place in rises.places),
        tuple(missed_k.tolist()),
        tuple(tuple(map(int, row)) for row in now),
        tuple(tuple(tuple(map(int, one)) for one in row) for row in gain),
        tuple(map(int, unsure)),
        lags,
        lag_of(rises.slowest_s, period_s),
    )


def _fitted(rises: Rises, period_s: float) -> tuple[tuple[Lag, ...], Array]:
    """The lags and gains (P, C, K) [K] with the least bound, lag by lag.

    One lag is added at a time, the best; then each is changed for a better one while there is one.
    """
    row = [
        lag_of(tau_s, period_s)
        for tau_s in np.geomspace(period_s, max(2.0 * period_s, rises.slowest_s), TIME_CONSTANTS)
    ]
    later_k = rises.rise_k - np.maximum(rises.rise_k[:, :, :1], 0.0)

    @functools.cache
    def fit(chosen: frozenset[int]) -> tuple[float, Array]:
        shares = _shares([row[at] for at in sorted(chosen)], rises.periods)
        gain_k = _gains_k(later_k, shares)
        return float(_climbs_k(later_k - gain_k @ shares.T).sum(axis=1).max()), gain_k

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


def _shares(lags: Sequence[Lag], periods: Array) -> Array:
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


def _climbs_k(step_k: Array) -> Array:
    """Sum of all climbs of step responses (P, C, I) along their last axis (P, C) [K]."""
    climbs: Array = np.maximum(np.diff(step_k, axis=2), 0.0).sum(axis=2)
    return climbs


def _left_k(step_k: Array) -> Array:
    """The climbs of step responses (P, C, I) from each period on, of all channels (P, I - 1)."""
    climbs = np.maximum(np.diff(step_k, axis=2), 0.0).sum(axis=1)
    left: Array = climbs[:, ::-1].cumsum(axis=1)[:, ::-1]
    return left
