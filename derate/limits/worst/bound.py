"""An upper bound on the temperature of a node over all histories of requests.

See ``ticks`` for what makes it a bound, ``dual`` for what makes it a good one, ``linear``, ``law``,
``reading`` and ``late`` for what of the lamp it rests on.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.control.shares import shares_of
from derate.lamp.lamp import Lamp
from derate.limits.worst.dual import Prices, heard_of, prices, slots_of
from derate.limits.worst.late import extra_of, late_of, speeds_of, within_k
from derate.limits.worst.law import Law
from derate.limits.worst.linear import SLOWEST, Linear
from derate.limits.worst.reading import Least, least_reading
from derate.limits.worst.ticks import Case, value, walk_of

Array = NDArray[np.float64]

LASTS: Final = 10.0
"""A history begins so many of the longest time constants before its end."""
MOST_TICKS: Final = 400_000
"""But no more ticks before it: what is not known of the lamp there then counts at its worst."""
LEAST_TICKS: Final = 64
"""But no fewer."""
PHASES: Final = (1.0, 0.5)
"""The end lies at these parts of a period after a tick,"""
BETWEEN_K: Final = 0.01
"""and in between the bound is higher by no more [K]: some thousandths in the demos,"""
BETWEEN: Final = 0.05
"""for sensors by no more than this share of their fastest rise in a period [-]: a third of it in
the demo with the longest period."""
CLOSE_K: Final = 0.05
"""The hottest reading is known well enough when it moves by less [K]."""
MOST_ROUNDS: Final = 8
"""Rounds in which the hottest reading is bounded."""


@dataclass(frozen=True, eq=False)
class Bound:
    """Of one node: the bound ``at_c`` [degC], the prices it was found with, ``edges`` of their
    slots in ticks before the end, which lies at ``phase`` [0..1] of a period."""

    node: int
    at_c: float
    prices: Prices
    edges: NDArray[np.int64]
    phase: float


@dataclass(frozen=True, eq=False)
class Watched:
    """A lamp made ready to be bounded: how its firmware reads and what it then allows.

    ``law``: of the share of full heat; ``least``: line of each sensor; ``late_k``: of each, by what
    is late [K]; ``extra``: what attack adds to the limit [-]; ``hottest_c``: bound on each sensor's
    body [degC]; ``knots``: share of each channel at even limits; ``warming_k`` (U): how much the
    place of each heat input may warm or cool within a period; ``edges`` and ``heard``: as ``dual``
    wants them.
    """

    lamp: Lamp
    linear: Linear
    law: Law
    least: tuple[Least, ...]
    late_k: Array
    extra: float
    hottest_c: Array
    knots: Array
    warming_k: Array
    edges: NDArray[np.int64]
    heard: Array


def watched(lamp: Lamp, linear: Linear, law: Law, guess_c: Array | None = None) -> Watched:
    """A lamp made ready: its sensors' hottest temperatures are bounded in turn until they stay.

    Where nothing is hotter than a guess as long as nothing is hotter than the guess, nothing ever
    is, since a lamp begins cold. ``guess_c``: for each sensor, to begin with [degC].
    """
    shares = shares_of(lamp)
    if shares is None:
        law = law.of_heat(linear.duties, linear.shares)
    cold_c, hot_c = linear.span.ambient_c
    open_c = np.minimum(hot_c + linear.rise_k[linear.sensors], linear.cap_c)
    hottest_c = open_c if guess_c is None else np.minimum(open_c, guess_c)
    sensed = linear.modes.response[:, linear.sensors].T
    speeds = [speeds_of(linear, response) for response in sensed]
    rises = np.array([one.rise for one in speeds])
    jumps_k = np.array([one.jump_k for one in speeds])
    warming_k = np.array([
        within_k(speeds_of(linear, felt), lamp.timing.control_period_s) if taken != 0.0 else 0.0
        for felt, taken in zip(linear.modes.felt, linear.taken_w_per_k, strict=True)
    ])  # fmt: skip
    knots = np.ones((len(lamp.channels), 1)) * np.linspace(0.0, 1.0, 2)
    if shares is not None:
        knots = np.maximum.accumulate(np.array(shares.knots_q15) / ONE_Q15, axis=1)
        knots = np.maximum(knots, np.interp(knots, linear.duties, linear.shares))
    edges, heard, found = slots_of(_ticks(lamp, linear)), None, None
    for _ in range(MOST_ROUNDS):
        least = tuple(
            least_reading(lamp, name, law, cold_c, float(high_c))
            for name, high_c in zip(lamp.sensors, hottest_c, strict=True)
        )
        gains = np.array([one.gain for one in least])
        late_k = gains * late_of(lamp, speeds)
        extra = extra_of(lamp, law, gains * rises, gains * jumps_k)
        found = Watched(
            lamp, linear, law, least, late_k, extra, hottest_c, knots, warming_k, edges, np.empty(0)
        )
        heard = heard_of(case_of(found), edges) if heard is None else heard
        found = replace(found, heard=heard)
        now_c = np.array([bound_of(found, int(node), (1.0,)).at_c for node in linear.sensors])
        now_c += BETWEEN_K + BETWEEN * rises * lamp.timing.control_period_s + jumps_k
        if guess_c is not None and np.any(now_c > hottest_c):
            return watched(lamp, linear, law)
        moved_k = hottest_c - now_c
        hottest_c = np.minimum(hottest_c, now_c)
        if np.all(moved_k < CLOSE_K):
            break
    assert found is not None  # there is at least one round
    return found


def bound_of(found: Watched, node: int, phases: tuple[float, ...] = PHASES) -> Bound:
    """The bound on a node's mean over a PWM period; with one phase alone it is a near guess."""
    case = case_of(found)
    edges = found.edges
    target = np.ascontiguousarray(found.linear.modes.response[:, node])
    best = None
    for part in phases:
        ending = case._replace(last_s=part * case.period_s)
        chosen = prices(found.linear, ending, target, edges, found.heard)
        one = with_prices(found, node, Bound(node, 0.0, chosen, edges, part))
        best = one if best is None or one.at_c > best.at_c else best
    assert best is not None  # there is at least one phase
    return best if len(phases) == 1 else replace(best, at_c=best.at_c + BETWEEN_K)


def with_prices(found: Watched, node: int, of: Bound) -> Bound:
    """A bound with the prices of another one, which may be loose."""
    case = case_of(found)
    target = np.ascontiguousarray(found.linear.modes.response[:, node])
    at = np.arange(int(of.edges[-1]))
    priced = np.hstack((of.prices.of_line, of.prices.of_wind))
    each = np.array([np.interp(at, of.edges, row) for row in priced.T])
    each = np.ascontiguousarray(each.reshape(-1, len(at)).T)
    ending = case._replace(last_s=of.phase * case.period_s)
    return replace(of, node=node, at_c=_value_c(found, ending, target, each))


def _ticks(lamp: Lamp, linear: Linear) -> int:
    """How many ticks before the end a history begins."""
    period_s = lamp.timing.control_period_s
    return int(np.clip(LASTS * linear.slowest_s / period_s, LEAST_TICKS, MOST_TICKS))


def case_of(found: Watched) -> Case:
    """What the ticks of a bound are computed from, with the end a whole period after one."""
    linear, lamp = found.linear, found.lamp
    modes = linear.modes
    slopes, heights, sensors = [], [], []
    for s, (least, hot_c, late_k) in enumerate(
        zip(found.least, found.hottest_c, found.late_k, strict=True)
    ):
        if not np.isfinite(late_k):
            continue
        lines = found.law.lines(least.gain * float(hot_c) + least.offset_c - float(late_k))
        slopes.append(lines.slope * least.gain)
        heights.append(lines.height - lines.slope * (least.offset_c - late_k) + found.extra)
        sensors.append(np.full(len(lines.slope), s))
    wind = np.flatnonzero(linear.taken_w_per_k != 0.0)
    taken, late_w = linear.taken_w_per_k, np.zeros(len(linear.high_w))
    late_w[wind] = np.abs(taken[wind]) * found.warming_k[wind]
    late_w[wind] += np.maximum(taken[wind], 0.0) * linear.apart_k
    return Case(
        rate=np.maximum(modes.rate, SLOWEST),
        drive=modes.drive,
        sensed=np.ascontiguousarray(modes.response[:, linear.sensors].T),
        most_w=linear.most_w,
        least_w=linear.least_w,
        free=np.array((linear.high_w, linear.low_w, linear.high_per_k, taken, late_w)),
        whose=linear.whose,
        slope=np.concatenate(slopes) if slopes else np.empty(0),
        height=np.concatenate(heights) if heights else np.empty(0),
        sensor=np.concatenate(sensors).astype(np.int64) if sensors else np.empty(0, np.int64),
        wind=wind,
        felt=np.ascontiguousarray(modes.felt[wind]),
        knots=found.knots,
        period_s=lamp.timing.control_period_s,
        last_s=lamp.timing.control_period_s,
        smooth=2.0**-lamp.controller.filter_shift,
    )


def _value_c(found: Watched, case: Case, target: Array, each: Array) -> float:
    """The bound with some prices [degC]."""
    linear, walk = found.linear, walk_of(case, target)
    total = value(case, walk, each)
    ambient = walk.ambient
    cold_c, hot_c = linear.span.ambient_c
    before = linear.modes.project.T @ walk.p
    left = -(1.0 - case.smooth) * float(walk.hanging.sum())
    total += float(np.maximum(before, 0.0) @ linear.rise_k)
    if len(ambient) == 1:
        ambient[0] += before.sum() + left
    else:
        total += float(np.maximum(before * cold_c, before * hot_c).sum())
        total += max(left * cold_c, left * hot_c)
    return total + float(np.maximum(ambient * cold_c, ambient * hot_c).sum())
