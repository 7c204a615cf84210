"""What the firmware does late, as kelvins of the reading and as light above the policy's limit.

What is late is taken off the reading: a sample that is older than its tick, a duty that waits for
its update, ticks that jitter, by the fastest rise and fall a sensor can have. An attack that lets
the limit fall no faster than so much is added to the limit, where the sensor can rise faster than
that allows.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.limits.worst.law import HARDLY_K, Law
from derate.limits.worst.linear import Linear

Array = NDArray[np.float64]

SEEN_S: Final = (1e-6, 1e6, 400)
"""Times after a step at which a sensor is looked at [s]: first, last, how many."""


class Speeds(NamedTuple):
    """The fastest ``rise`` and ``fall`` of a place [K/s], and what it may ``jump`` besides [K]."""

    rise: float
    fall: float
    jump_k: float


def speeds_of(linear: Linear, response: Array) -> Speeds:
    """How fast a place can be: sums of the climbs and falls of its answer.

    The answer to a watt that begins at 0 is the integral of h; with heat between 0 and q the
    temperature rises at most by q times what h climbs, and falls by q times what it falls. What
    acts at once, on a place without a heat capacity, is a jump.
    """
    modes, count = linear.modes, len(linear.modes.rate)
    inputs = len(linear.high_w)
    first, last, many = SEEN_S
    at_s = np.geomspace(first, last, many)
    answers = (linear.modes.drive[:inputs] * response[:count]) @ np.exp(-np.outer(modes.rate, at_s))
    begin = linear.modes.drive[:inputs] @ response[:count]
    steps = np.diff(np.hstack((np.zeros((inputs, 1)), begin[:, None], answers)), axis=1)
    heat_w = linear.most_w.sum(axis=0) + linear.high_w - linear.low_w
    up = np.maximum(steps, 0.0).sum(axis=1) @ heat_w
    down = np.maximum(-steps, 0.0).sum(axis=1) @ heat_w
    jump_k = np.abs(response[count : count + inputs]) @ heat_w
    return Speeds(float(up), float(down), float(jump_k))


def within_k(speeds: Speeds, time_s: float) -> float:
    """How much a place may warm or cool within a time [K]."""
    return max(speeds.rise, speeds.fall) * time_s + speeds.jump_k


def late_of(lamp: Lamp, speeds: list[Speeds]) -> Array:
    """How much each sensor may be warmer now than in the sample that is acted on [K]."""
    timing = lamp.timing
    same = timing.adc_period_s == timing.control_period_s
    same = same and timing.adc_phase_s == timing.control_phase_s
    age_s = 0.0 if same else timing.adc_period_s
    age_s += timing.adc_jitter_s + timing.control_jitter_s + timing.update_period_s
    jitter_s = timing.adc_jitter_s + timing.control_jitter_s
    return np.array([
        (one.rise * age_s + one.jump_k if age_s > 0.0 else 0.0)
        + (one.fall * jitter_s + one.jump_k if jitter_s > 0.0 else 0.0)
        for one in speeds
    ])  # fmt: skip


def extra_of(lamp: Lamp, law: Law, rises: Array, jumps_k: Array) -> float:
    """How far the limit may lie above what the policy gives, as attack is slow [-].

    While the reading rises at most at ``rises`` [K/s], and by ``jumps_k`` at once, the policy's
    limit falls at most so fast, or by a step that the attack takes its time for.
    """
    attack = lamp.controller.attack_per_s
    if attack is None:
        return 0.0
    drops = -np.diff(law.limit[:-1])
    widths_k = np.diff(law.reading_c[:-1])
    fastest = float(rises.max())
    beyond = 0.0
    for i in range(len(drops)):  # from corner i on, down to any later one
        for j in range(i, len(drops)):
            fall = drops[i : j + 1].sum()
            taken_s = widths_k[i : j + 1].sum() / fastest if fastest > 0.0 else np.inf
            beyond = max(beyond, float(fall - attack * taken_s))
    beyond += _lost(law, float(jumps_k.max()))
    per_period = attack * lamp.timing.control_period_s
    return max(0.0, beyond - per_period)


def _lost(law: Law, jump_k: float) -> float:
    """The most that the limit falls as the reading jumps [-]."""
    if jump_k == 0.0:
        return 0.0
    corners_c, limit = law.reading_c[:-1], law.limit[:-1]
    begins_c = np.concatenate((corners_c, corners_c - jump_k)) - HARDLY_K
    ends_c = begins_c + jump_k + 2.0 * HARDLY_K
    falls = np.interp(begins_c, corners_c, limit) - np.interp(ends_c, corners_c, limit)
    return float(falls.max(initial=0.0))
