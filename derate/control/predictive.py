"""Policy "predictive": light such that no limited place will pass its limit in the coming period.

The firmware knows the heat that it commands. An observer (``derate.control.observer``) tells from
the duties driven so far how far each place lies above the reading, and what each request would add
to it. With T that estimate and L the limit of the light,

    T(L) = reading + rise + now L,      L = (limit - guard - T(L)) / band,      floor <= L <= 1

solved for L, so that light falls on a line from 1 to 0 over the last ``band`` below the limit less
``guard``, and the hottest place decides. What the light will do to a junction is solved for, not
fed back a period late; the reading still is fed back, and one code of it moves the light by that
code over (band + now).

A place that is no junction may have a second, softer line beside its own: as if what is asked for
lifted it by ``soft`` more, shared evenly by the channels, and its end were higher by SOFT_REST of
that. Then light falls early while the place is still cool, and the first line only holds the end.
The lesser of both limits counts, so that nothing is hotter for it.

All in integers, as the C computes it: temperatures in 0.01 degC, shares as Q15 and Q31.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from derate.control.air import air_of
from derate.control.lags import Lag
from derate.control.observer import CENTI, observer_of
from derate.control.shares import LIMITS_Q15, shares_of
from derate.lamp import controller
from derate.lamp.lamp import Lamp

ONE_Q15, ONE_Q31 = 1 << 15, 1 << 31
SOFT_REST = 0.4
"""Share of full light at which the softer line meets the end of the other."""
SHARE_ROUNDING = 1e-6
"""Share of a Q15 unit forgiven when rounding down, for floating-point rounding."""


class Settings(NamedTuple):
    """Of places P, channels C and lags K: ``places``: names; ``end_centi_c``: where light ends;
    rises in 0.01 K at full drive: ``now`` (P, C), ``gain`` (P, C, K), ``unsure`` (P)."""

    places: tuple[str, ...]
    end_centi_c: tuple[int, ...]
    now: tuple[tuple[int, ...], ...]
    gain: tuple[tuple[tuple[int, ...], ...], ...]
    unsure: tuple[int, ...]
    lags: tuple[Lag, ...]
    doubt: Lag
    band_centi_k: int
    floor_q15: int


class State(NamedTuple):
    """What was driven, low-passed, by channel and lag, and what is known since the start; Q31."""

    driven: tuple[tuple[int, ...], ...]
    known: int


def settings_of(lamp: Lamp, chosen: controller.Predictive) -> Settings:
    """The settings of a lamp; raises InputError where they cannot be held by 16 bits."""
    observer = observer_of(lamp, air_of(lamp, chosen))
    kept = [
        at
        for at, name in enumerate(observer.places)
        if observer.is_junction[at] or chosen.watch is None or name in chosen.watch
    ]
    end_c = [
        observer.limit_c[at]
        - observer.missed_k[at]
        - _lifted_k(lamp, observer.now[at])
        - chosen.guard_k
        for at in kept
    ]
    now = [observer.now[at] for at in kept]
    if chosen.soft_k > 0.0:
        slow = [row for row, at in enumerate(kept) if not observer.is_junction[at]]
        wider = round(chosen.soft_k / len(lamp.channels) * CENTI)
        end_c += [end_c[row] + SOFT_REST * chosen.soft_k for row in slow]
        now += [tuple(rise + wider for rise in now[row]) for row in slow]
        kept += [kept[row] for row in slow]
    return Settings(
        places=tuple(observer.places[at] for at in kept),
        end_centi_c=tuple(math.floor(at_c * CENTI) for at_c in end_c),
        now=tuple(now),
        gain=tuple(observer.gain[at] for at in kept),
        unsure=tuple(observer.unsure[at] for at in kept),
        lags=observer.lags,
        doubt=observer.doubt,
        band_centi_k=round(chosen.band_k * CENTI),
        floor_q15=int(chosen.floor * ONE_Q15 + SHARE_ROUNDING),
    )


def _lifted_k(lamp: Lamp, now: Sequence[int]) -> float:
    """Most that shares above the limit lift a place beyond what the limit is solved for [K]."""
    shares = shares_of(lamp)
    if shares is None:
        return 0.0
    beyond = [
        _product(now, [max(0, share - limit) for share in at])
        for limit, at in zip(LIMITS_Q15, zip(*shares.knots_q15, strict=True), strict=True)
    ]
    return max(beyond) / ONE_Q15 / CENTI


def begin(settings: Settings) -> State:
    """The state before the first step: nothing is known of what was driven."""
    return State(tuple((0,) * len(settings.lags) for _ in settings.now[0]), 0)


def limit(
    settings: Settings, state: State, reading_c: float, requests_q15: Sequence[int]
) -> tuple[float, State]:
    """The limit (0..1) at ``reading_c`` [degC] and the requests of this period, and the state."""
    reading = math.floor(reading_c * CENTI + 0.5)
    requests = [min(int(request), ONE_Q15) for request in requests_q15]
    best_room, best_width = 1, 1
    for end, rise, now in zip(
        settings.end_centi_c, rises_centi_k(settings, state), settings.now, strict=True
    ):
        room = end - reading - rise
        width = settings.band_centi_k + _rounded_up(_product(now, requests))
        if room <= 0:
            return settings.floor_q15 / ONE_Q15, state
        if room * best_width < best_room * width:
            best_room, best_width = room, width
    return max(settings.floor_q15, (best_room << 15) // best_width) / ONE_Q15, state


def rises_centi_k(settings: Settings, state: State) -> list[int]:
    """How far each place lies above the reading by what was driven so far [0.01 K], rounded up."""
    shares = [_q15(x) for channel in state.driven for x in channel]
    doubt = _q15(ONE_Q31 - state.known)
    return [
        _rounded_up(_product([g for channel in gain for g in channel], shares) + unsure * doubt)
        for gain, unsure in zip(settings.gain, settings.unsure, strict=True)
    ]


def driven(settings: Settings, state: State, duties_q15: Sequence[int]) -> State:
    """The state after a period with these duties."""
    return State(
        tuple(
            tuple(_follow(lag, x, duty << 16) for lag, x in zip(settings.lags, before, strict=True))
            for before, duty in zip(state.driven, duties_q15, strict=True)
        ),
        _follow(settings.doubt, state.known, ONE_Q31),
    )


def rested(settings: Settings, duties_q15: Sequence[int]) -> State:
    """The state after these duties for ever."""
    return State(tuple((duty << 16,) * len(settings.lags) for duty in duties_q15), ONE_Q31)


def _follow(lag: Lag, now: int, target: int) -> int:
    """One step of a low-pass towards its target; never beyond it."""
    step = (abs(target - now) * lag.mantissa >> 16) >> lag.shift
    return now + step if target >= now else now - step


def _q15(share_q31: int) -> int:
    return (share_q31 + 0x8000) >> 16


def _product(gains: Sequence[int], shares: Sequence[int]) -> int:
    return sum(gain * share for gain, share in zip(gains, shares, strict=True))


def _rounded_up(centi_k_q15: int) -> int:
    return (centi_k_q15 + ONE_Q15 - 1) >> 15
