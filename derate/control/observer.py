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

A place whose way to the reading changes with the air is estimated by a row for the least airflow
and one for the largest, and the hotter one counts. A row is left out where full drive for ever at
its airflow does not bring the place to its limit in the hottest ambient: who reads that hot then
has the other airflow. Two rows are made one where that costs little. The promise holds at either
airflow as long as it stays; air beyond what the observer is made for is beyond it.

After a start what was driven before is unknown. What it may still add n periods later is no more
than the climbs of F from n on, and so no more than ``unsure`` times a factor that fades with the
slowest time constant of the lamp.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.air import Air
from derate.control.lags import Lag, climbs_k, fitted, lag_of, shares
from derate.control.rises import Rises, rises_of
from derate.errors import InputError
from derate.lamp.lamp import Lamp

Array = NDArray[np.float64]

CENTI = 100
ONE_Q15 = 32768
INT16_MAX = 0x7FFF
SPARE_K = 10.0
"""By so much a place must stay below its limit at an airflow for the row of it to be left out."""
LITTLE_K = 0.5
"""What two rows made one may take off the limit more than the worse of them, and how far apart
they may be at rest under full drive."""
ARITHMETIC_K = 0.02
"""What roundings may take from an estimate [K]: half a Q15 unit of each share, which is 0.005 K of
the 327 K that gains may add up to, the stall of a lag, and 0.01 K of the reading."""


class Observer(NamedTuple):
    """Of rows P, one or more for a place: ``places``: its name; ``airflows``: the factors that the
    row holds at; ``is_junction``; ``limit_c``: what an estimate may reach [degC], ``missed_k`` [K]
    of it taken off already; ``now`` (P, C) and ``gain`` (P, C, K): rises at full drive [0.01 K];
    ``unsure``: the most that heat from before a start may add. ``lags`` (K), and ``doubt``, by
    which that fades."""

    places: tuple[str, ...]
    airflows: tuple[tuple[float, ...], ...]
    is_junction: tuple[bool, ...]
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


def observer_of(lamp: Lamp, air: Air) -> Observer:
    """The observer of a lamp.

    Raises InputError where a lamp rises further than 16 bits hold.
    """
    rest: Any = {"profiles": True, "controller": {"policy"}, "tolerances": True}
    depends_on = lamp.model_dump_json(exclude=rest) + repr(air)
    if depends_on not in _KEPT:
        file = str(lamp.source) if lamp.source else lamp.name
        rises = rises_of(lamp, air.airflows)
        found = _observer(rises, air, lamp.timing.control_period_s, file)
        while len(_KEPT) >= MOST_KEPT:
            del _KEPT[next(iter(_KEPT))]
        _KEPT[depends_on] = found
    return _KEPT[depends_on]


class _Row(NamedTuple):
    """A row to be: which place, by which airflow it is fitted, at which it holds, by index."""

    place: int
    fitted: int
    holds: tuple[int, ...]

    def rise_k(self, rises: Rises) -> Array:
        """Rises (H, C, I) at the airflows at which it holds."""
        return rises.rise_k[list(self.holds), self.place]


def _observer(rises: Rises, air: Air, period_s: float, file: str) -> Observer:
    chosen = _rows(rises, air)
    lags, gain_k = fitted(
        np.array([rises.rise_k[row.fitted, row.place] for row in chosen]),
        rises.periods,
        period_s,
        rises.slowest_s,
    )
    passed = shares(lags, rises.periods)
    fits = [_fit(rises, row, gain, passed) for row, gain in zip(chosen, gain_k, strict=True)]
    rows, fits = _merged(rises, chosen, gain_k, passed, fits)
    doubts_s = rises.periods[1:] * period_s / rises.slowest_s
    unsure = []
    for row in rows:
        left_k = np.array([_left_k(rise_k) for rise_k in row.rise_k(rises)])
        unsure.append(float(np.ceil((left_k * np.exp(doubts_s)).max() * CENTI)))
    for row, fit, doubt in zip(rows, fits, unsure, strict=True):
        rise = max(float(np.abs(fit.gain).sum()) + doubt, float(fit.now.sum()))
        if rise > INT16_MAX:
            raise InputError(
                f'{file}: controller.policy.kind: found "predictive" for'
                f" {rises.places[row.place].name}, which may rise {rise / CENTI:.0f} K above the"
                " reading, due at most 327 K"
            )
    places = [rises.places[row.place] for row in rows]
    return Observer(
        tuple(place.name for place in places),
        tuple(tuple(air.airflows[a] for a in row.holds) for row in rows),
        tuple(place.is_junction for place in places),
        tuple(place.limit_c for place in places),
        tuple(fit.missed_k for fit in fits),
        tuple(tuple(map(int, fit.now)) for fit in fits),
        tuple(tuple(tuple(map(int, one)) for one in fit.gain) for fit in fits),
        tuple(map(int, unsure)),
        lags,
        lag_of(rises.slowest_s, period_s),
    )


def _rows(rises: Rises, air: Air) -> list[_Row]:
    """A row for each place and airflow at which it may reach its limit; for every place, one."""
    rows = []
    for p, place in enumerate(rises.places):
        may = list(range(len(air.airflows)))
        if air.hottest_c is not None:
            reached_c = air.hottest_c + rises.above_k[:, p] + rises.crest_k[p] + SPARE_K
            may = [a for a in may if reached_c[a] > place.limit_c]
        rows += [_Row(p, a, (a,)) for a in may or [0]]
    return rows


class _Fit(NamedTuple):
    """A row in integers [0.01 K], and what it misses [K] where it holds."""

    now: Array
    gain: Array
    missed_k: float


def _fit(rises: Rises, row: _Row, gain_k: Array, passed: Array) -> _Fit:
    rise_k = row.rise_k(rises)
    now = np.ceil(np.maximum(rise_k[:, :, 0], 0.0).max(axis=0) * CENTI)
    gain = np.ceil(gain_k * CENTI)
    apart_k = rise_k - (now / CENTI)[:, None] - gain / CENTI @ passed.T
    missed_k = (
        (climbs_k(apart_k).sum(axis=1) + climbs_k(-rise_k) @ rises.short).max()
        + rises.crest_k[row.place]
        + ARITHMETIC_K
    )
    return _Fit(now, gain, float(missed_k))


def _merged(
    rises: Rises, rows: list[_Row], gain_k: Array, passed: Array, fits: list[_Fit]
) -> tuple[list[_Row], list[_Fit]]:
    """The rows, two of a place made one where that takes little more off its limit."""
    kept: list[tuple[_Row, _Fit]] = []
    for row, gain, fit in zip(rows, gain_k, fits, strict=True):
        if kept and kept[-1][0].place == row.place:
            both = row._replace(holds=(*kept[-1][0].holds, *row.holds))
            one = _fit(rises, both, gain, passed)
            rests_k = rises.rise_k[list(both.holds), row.place, :, -1].sum(axis=1)
            more_k = one.missed_k - max(fit.missed_k, kept[-1][1].missed_k)
            if more_k <= LITTLE_K and np.ptp(rests_k) <= LITTLE_K:
                kept[-1] = (both, one)
                continue
        kept.append((row, fit))
    return [row for row, _ in kept], [fit for _, fit in kept]


def _left_k(step_k: Array) -> Array:
    """The climbs of step responses (C, I) from each period on, of all channels (I - 1)."""
    climbs = np.maximum(np.diff(step_k, axis=1), 0.0).sum(axis=0)
    left: Array = climbs[::-1].cumsum()[::-1]
    return left
