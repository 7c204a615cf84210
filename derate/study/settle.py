"""Where thermal control comes to rest at the requests and the ambient of the point."""

import math
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from derate.control.command import ONE_Q15
from derate.control.policy import policy_of
from derate.control.shares import shared_duties, shares_of
from derate.plant.rest import Rest
from derate.plant.steady import RUNAWAY_C
from derate.study.operating import Operating

SHARES = 21
"""Limits at which the reading at rest is known beforehand; more are added where it settles."""
LAG_PERIODS = 200
"""The lamp is taken to follow within so many control periods: where it settles does not depend on
it, but control must look often while it moves."""
MOST_PERIODS = 40_000
STILL, STILL_K = 1e-10, 1e-6
"""Change of the limit in a period, and distance of the reading from its rest, of what stands."""
EXACT_K = 1e-4
"""The reading at the limit found is computed anew until it is right to this."""
MOST_TURNS = 12
"""Turns of the limit, up or down, after which it is looked at whether they fade."""
UNSEEN = 0.005
"""A limit that turns by less stands: one that counts in 0.01 K has no level between [-]."""
FADES = 0.9


@dataclass(frozen=True)
class Settled:
    """Rest of lamp and policy together.

    ``settles``: whether there is one; otherwise control goes to and fro between the limits of
    ``between``, each with the reading [degC] that the lamp would come to rest at under it.
    ``limit`` [0..1]: what the policy allows, the lower one of those between; ``reading_c`` [degC]
    per sensor, ``junction_c`` [degC] per channel, hottest, ripple included, and ``light_lm`` [lm]
    at rest under it; ``cut_off``: the cut-off takes part; ``holds``: all limits hold under the
    highest of these limits. ``sentence`` says it in words.
    """

    settles: bool
    limit: float
    reading_c: dict[str, float]
    junction_c: dict[str, float]
    light_lm: float
    cut_off: bool
    holds: bool
    between: tuple[tuple[float, float], ...]
    sentence: str


class _Readings:
    """The hottest reading at rest [degC] against the limit, a line between what is known.

    nan where a sensor is in a fault window, RUNAWAY_C without a rest.
    """

    def __init__(self, lamp: Operating, requests: Sequence[float], ambient_c: float) -> None:
        self._lamp, self._requests, self._ambient_c = lamp, np.array(requests), ambient_c
        self._shares = shares_of(lamp.lamp)
        self._shared: dict[float, Rest] = {}
        self._limit: list[float] = []
        self._reading_c: list[float] = []
        for limit in np.linspace(0.0, 1.0, SHARES):
            self.know(float(limit))

    def rest(self, limit: float) -> Rest:
        """The rest under a limit."""
        if self._shares is None:
            return self._lamp.at(limit * float(self._requests.max()), self._ambient_c)
        if limit not in self._shared:
            duties = shared_duties(self._shares, limit, self._requests)
            self._shared[limit] = self._lamp.under(duties, self._ambient_c)
        return self._shared[limit]

    def know(self, limit: float) -> float:
        """The reading at a limit, computed and kept."""
        rest = self.rest(limit)
        reading_c = RUNAWAY_C if rest.runaway else float(self._lamp.readings_c(rest).max())
        if limit not in self._limit:
            at = bisect(self._limit, limit)
            self._limit.insert(at, limit)
            self._reading_c.insert(at, reading_c)
        return reading_c

    def at(self, limit: float) -> float:
        """The reading at a limit by what is known."""
        at = min(max(bisect(self._limit, limit), 1), len(self._limit) - 1)
        low, high = self._limit[at - 1], self._limit[at]
        low_c, high_c = self._reading_c[at - 1], self._reading_c[at]
        return low_c + (high_c - low_c) * (limit - low) / (high - low)


class _Loop:
    """Policy, cut-off and a lamp that follows with one lag; ``turns``: limits where it turned."""

    def __init__(self, lamp: Operating, readings: _Readings, requests: Sequence[float]) -> None:
        self._policy = policy_of(lamp.lamp)
        self._shares, self._requests = shares_of(lamp.lamp), np.array(requests)
        self._state = self._policy.begin()
        self._control = lamp.lamp.controller
        self._period_s = lamp.lamp.timing.control_period_s
        self._readings = readings
        self.reading_c = readings.at(0.0)
        self.limit = 0.0
        self.cut_off = False
        self.turns: list[float] = []
        self._way = 0.0

    def settle(self) -> bool:
        """Go on until everything stands; False when it goes to and fro."""
        self.turns = []
        for _ in range(MOST_PERIODS):
            before = self.limit
            self._look()
            target_c = self._readings.at(self.limit)
            if math.isnan(self.reading_c) or math.isnan(target_c):
                self.reading_c = target_c
            else:
                self.reading_c += (target_c - self.reading_c) / LAG_PERIODS
            moved = self.limit - before
            if abs(moved) <= STILL and not abs(target_c - self.reading_c) > STILL_K:
                return True
            if moved * self._way < 0.0:
                self.turns.append(before)
                if len(self.turns) >= MOST_TURNS and not self._fading():
                    return self._swing() < UNSEEN
            self._way = moved or self._way
        return False

    def _look(self) -> None:
        """One control period at the present reading."""
        if math.isnan(self.reading_c):
            self.limit = self._control.safe_duty
            return
        driven = shared_duties(self._shares, self.limit, self._requests)
        asked_q15, driven_q15 = (
            (duties * ONE_Q15).astype(int).tolist() for duties in (self._requests, driven)
        )
        self.limit, self._state = self._policy.limit(
            self._policy.rested(self._state, driven_q15),
            self.reading_c,
            self._period_s,
            asked_q15,
        )
        if self.reading_c >= self._control.cutoff_c:
            self.limit, self.cut_off = 0.0, True

    def _swing(self) -> float:
        """How far the limit went at last, from one turn to the next."""
        return abs(self.turns[-1] - self.turns[-2])

    def _fading(self) -> bool:
        return self._swing() < FADES * abs(self.turns[-MOST_TURNS] - self.turns[1 - MOST_TURNS])


def settled(lamp: Operating, requests: dict[str, float], ambient_c: float) -> Settled:
    """Where lamp and policy come to rest together at ``requests`` and ``ambient_c`` [degC].

    The policy is asked once a control period while the lamp, cold at first, follows with a lag.
    Raises InputError when a policy of the user's cannot be used.
    """
    asked = [requests[name] for name in lamp.lamp.channels]
    readings = _Readings(lamp, asked, ambient_c)
    loop = _Loop(lamp, readings, asked)
    while stands := loop.settle():
        known_c = readings.at(loop.limit)
        if not abs(readings.know(loop.limit) - known_c) > EXACT_K:
            break
    limits = [loop.limit] if stands else sorted(set(loop.turns[-2:]), reverse=True)
    rest = readings.rest(limits[-1])
    reached = {name: rest.peak_c[node] for name, node in lamp.hottest(rest).items()}
    return Settled(
        stands,
        limits[-1],
        dict(zip(lamp.lamp.sensors, lamp.readings_c(rest).tolist(), strict=True)),
        {name: float(at_c) for name, at_c in reached.items()},
        float(rest.light_lm.sum()),
        loop.cut_off,
        lamp.nearest(readings.rest(limits[0]))[0] >= 0.0,
        () if stands else tuple((limit, readings.know(limit)) for limit in limits),
        _sentence(
            stands,
            limits,
            [readings.know(limit) for limit in limits],
            loop.cut_off,
            lamp.lamp.controller.sharing.way,
        ),
    )


def _sentence(
    stands: bool, limits: list[float], readings_c: list[float], cut_off: bool, way: str
) -> str:
    if stands:
        share = f"{100 * limits[0]:.3g} %"
        told = f"reading {readings_c[0]:.1f} degC"
        if math.isnan(readings_c[0]):
            told = "the sensor taken for faulty"
        if way != "same share":
            return f"Settles at a limit of {share}, {way}, {told}."
        return f"Settles at {share} of the requests, {told}."
    cause = "the cut-off and the light that comes back" if cut_off else "two levels"
    rests = ", ".join(
        f"{100 * limit:.3g} % would rest at {reading_c:.1f} degC"
        for limit, reading_c in zip(limits, readings_c, strict=True)
    )
    return f"Does not settle: goes to and fro between {cause}; {rests}."
