"""Where a controller comes to rest at the same code, from below, from above and afresh.

A controller without history answers a code that stands still the same whichever way it came there.
One with a low-pass in integers that stops short, or with comparisons that leave something between
them, does not: the temperatures between both ways are its dead zone. Which way it errs in kelvin
depends on the divider: where codes fall as it warms, "short of the code" is "too cold" one way and
"too hot" the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.firmware.compare import HostSide
from derate.sensing.chain import Chain

LEAST_DWELL, MOST_DWELL = 64, 8192
"""Steps a code stands still: until nothing has changed for as long, and at most."""
MOST_CODES = 700
COARSE_CODES = 96
AROUND_K = 8.0
"""Looked at on both sides of where the limit changes."""
FULL_Q15 = 32768


@dataclass(frozen=True)
class DeadZone:
    """How far both ways lie apart, at the limit where it is worst.

    ``late_k``: warming, it acts so much hotter than afresh [K]; ``back_k``: cooling, it gives light
    back so much colder; ``late_codes``, ``back_codes``: the same in codes; ``at_c``: where it acts
    afresh;
    ``latched``: it does not give the light back at all; ``levels``: how many limits it has;
    ``rises``: codes rise with temperature.
    """

    late_k: float
    back_k: float
    late_codes: int
    back_codes: int
    at_c: float
    latched: bool
    levels: int
    rises: bool

    @property
    def width_k(self) -> float:
        """From one way to the other [K]."""
        return self.late_k + self.back_k


def dead_zone(
    host: HostSide, chains: Sequence[Chain], quiet_steps: int = LEAST_DWELL
) -> DeadZone | None:
    """The dead zone of a controller on the host; None where its limit does not change at all.

    The first sensor moves, the others stay cold, all requests are full. ``quiet_steps``: without a
    change for so long, it is at rest.
    """
    chain = chains[0]
    codes = np.arange(1 << chain.sensor.adc.bits)
    reading_c = np.array([chain.reading_c(int(code)) for code in codes])
    healthy = np.flatnonzero(np.isfinite(reading_c))
    order = healthy[np.argsort(reading_c[healthy], kind="stable")]
    walker = _Walker(host, chains, quiet_steps)
    coarse = order[np.linspace(0, len(order) - 1, COARSE_CODES).astype(int)]
    afresh = np.array([walker.afresh(int(code)) for code in coarse])
    changes = np.flatnonzero(np.diff(afresh))
    if not len(changes):
        return None
    low_c, high_c = reading_c[coarse[changes[0]]], reading_c[coarse[changes[-1] + 1]]
    near = order[(reading_c[order] >= low_c - AROUND_K) & (reading_c[order] <= high_c + AROUND_K)]
    near = near[:: -(-len(near) // MOST_CODES)]
    afresh = np.array([walker.afresh(int(code)) for code in near])
    host.begin()
    warming = np.array([walker.at_rest(int(code)) for code in near])
    cooling = np.array([walker.at_rest(int(code)) for code in near[::-1]])[::-1]
    return _widest(near, reading_c[near], afresh, warming, cooling)


class _Walker:
    """Holds codes until the limit rests."""

    def __init__(self, host: HostSide, chains: Sequence[Chain], dwell: int) -> None:
        self.host, self.dwell = host, dwell
        self.requests = [FULL_Q15] * host.channels
        self.others = [chain.ideal_code(25.0) for chain in chains[1:]]

    def afresh(self, code: int) -> int:
        """The limit at rest after a start at this code."""
        self.host.begin()
        return self.at_rest(code)

    def at_rest(self, code: int) -> int:
        """The limit at rest, going on from before."""
        codes = [code, *self.others]
        step = self.host.body.step
        limit, quiet = -1, 0
        for _ in range(MOST_DWELL):
            now = step(codes, self.requests).limit_q15
            quiet = quiet + 1 if now == limit else 0
            limit = now
            if quiet >= self.dwell:
                break
        return limit


def _widest(
    codes: NDArray[np.int64],
    reading_c: NDArray[np.float64],
    afresh: NDArray[np.int64],
    warming: NDArray[np.int64],
    cooling: NDArray[np.int64],
) -> DeadZone | None:
    """The limit at which both ways lie furthest apart; arrays from cold to hot."""
    levels = np.unique(np.concatenate([afresh, warming, cooling]))
    found: list[tuple[float, DeadZone]] = []
    for level in (levels[:-1] + levels[1:]) / 2:
        here, hot, cold = (_first_below(limits, level) for limits in (afresh, warming, cooling))
        if here is None or hot is None:
            continue
        back = 0 if cold is None else cold
        zone = DeadZone(
            late_k=float(reading_c[hot] - reading_c[here]),
            back_k=float(reading_c[here] - reading_c[back]),
            late_codes=abs(int(codes[hot] - codes[here])),
            back_codes=abs(int(codes[here] - codes[back])),
            at_c=float(reading_c[here]),
            latched=bool((cooling < level).all()),
            levels=len(levels),
            rises=bool(codes[-1] > codes[0]),
        )
        found.append((zone.width_k, zone))
    return max(found, key=lambda one: one[0])[1] if found else None


def _first_below(limits: NDArray[np.int64], level: float) -> int | None:
    """The coldest place at which the limit is below a level."""
    places = np.flatnonzero(limits < level)
    return int(places[0]) if len(places) else None
