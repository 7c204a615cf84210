"""What happens inside a step: peaks between its ends, and the time spent above a limit.

Inside a step of length h every node moves as a sum of exponentials,

    T(t) = T(0) + sum of push_i (1 - e^(-rate_i t)) / rate_i

whose derivative, the sum of push_i e^(-rate_i t), tells where it turns. The derivative is looked at
on a graded grid (h, h/4, h/16, ... down to where the fastest mode begins to act), and every change
of sign and every crossing of the limit is then found by narrowing a bracket. Bounds decide first
whether that is worth while: each mode is monotone, so a node exceeds its ends at most by the
smaller one of all its upward and all its downward contributions.

What is above a limit or the highest so far is the mean over a PWM period and, for a junction, the
crest of its ripple on top.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.factors import DECAY, GRADED, grades
from derate.plant.kernel import inlined, kernel
from derate.plant.modes import Modes
from derate.plant.state import BEGIN, FINISH, Interval, Machine, State
from derate.plant.swell import bound, bring_ripple
from derate.plant.tally import Tally

Array = NDArray[np.float64]

SETTLED_K = 1e-5
"""A peak between ends higher by less [K] is not looked for: a tenth of a step's own error."""
ROUNDING_K = 1e-9
"""An end higher by less [K] is the same peak still, at the time it was first reached."""
MOST_NARROWINGS = 60
"""Of a bracket, by regula falsi with the lagging end halved; about eight are needed."""
ROOT_SHARE = 1e-10
"""A node turns where its speed is this share of that at the ends [-]."""
CROSSING_K = 1e-11
"""A limit is crossed where the node is this near [K]: to rounding."""


@inlined
def watch(
    machine: Machine,
    modes: Modes,
    state: State,
    interval: Interval,
    slot: Array,
    tally: Tally,
    h: float,
) -> None:
    """Book peaks and times above limits over a step of ``h`` [s] that begins at the tally's clock.

    It goes from the temperatures of BEGIN to those of FINISH, ``state.moved`` being the change of
    each mode. A node that even a bound keeps below its peak and its limit is not looked at.
    """
    moved, sway = state.moved, 0.0
    for i in range(len(moved)):
        sway += modes.reach[i] * abs(moved[i])
    rippled = machine.every_ripple
    if rippled:
        bring_ripple(machine, modes, state, interval)
    else:
        bound(machine, modes, state, interval)
    for j in range(state.node_c.shape[1]):
        junction = j - machine.junction
        most_k, crested = sway, 0 <= junction < state.ripple_k.shape[0]
        if crested:
            most_k += state.ripple_k[junction]
        most_c = max(state.node_c[BEGIN, j], state.node_c[FINISH, j]) + most_k
        if most_c <= tally.peak_c[j] and not most_c > machine.limits_c[j]:
            continue
        if crested and not rippled:
            bring_ripple(machine, modes, state, interval)
            rippled = True
        ripple_k = state.ripple_k[junction] if crested else 0.0
        _watch_node(machine, modes, state, slot, tally, h, j, ripple_k, sway)


@kernel
def _watch_node(
    machine: Machine,
    modes: Modes,
    state: State,
    slot: Array,
    tally: Tally,
    h: float,
    j: int,
    ripple_k: float,
    sway: float,
) -> None:
    """Book the peak of node ``j`` and its time above the limit."""
    moved, begin_s, upward = state.moved, tally.clock_s[0], 0.0
    if sway > SETTLED_K:
        for i in range(len(moved)):
            upward += max(modes.response[i, j] * moved[i], 0.0)
    start_c, end_c = state.node_c[BEGIN, j], state.node_c[FINISH, j]
    beyond = max(0.0, min(upward, upward - (end_c - start_c)))
    start_c, end_c = start_c + ripple_k, end_c + ripple_k
    low, high = min(start_c, end_c), max(start_c, end_c)
    if high > tally.peak_c[j] + ROUNDING_K:
        tally.peak_c[j] = high
        tally.peak_at_s[j] = begin_s + (h if end_c >= start_c else 0.0)
    turns = beyond > SETTLED_K and high + beyond > tally.peak_c[j] + SETTLED_K
    limit_c = machine.limits_c[j]
    if low - beyond >= limit_c:
        tally.above_s[j] += h
        limit_c = np.nan
    elif high + beyond <= limit_c:
        limit_c = np.nan
    if turns or not np.isnan(limit_c):
        _look_closer(modes, state.pull, slot, j, start_c, end_c, limit_c, tally, h)


@kernel
def _look_closer(
    modes: Modes,
    pull: Array,
    slot: Array,
    j: int,
    start_c: float,
    end_c: float,
    limit_c: float,
    tally: Tally,
    h: float,
) -> None:
    """Book what node ``j`` does inside the step, piece by piece between its turning points."""
    pieces = grades(modes, slot)
    if not _may_turn(modes, pull, slot, j, pieces):
        if start_c > limit_c or end_c > limit_c:
            tally.above_s[j] += _above(
                modes, pull, slot, j, 0.0, h, start_c, end_c, start_c, limit_c
            )
        return
    before_s, before_c = 0.0, start_c
    for grade in range(pieces, -1, -1):
        after_s = h * 0.25**grade
        turn_s = _turning(modes, pull, slot, j, before_s, after_s)
        for piece_s in (turn_s, after_s):
            piece_c = _at(modes, pull, slot, j, start_c, piece_s)
            if piece_c > tally.peak_c[j] + SETTLED_K:
                tally.peak_c[j], tally.peak_at_s[j] = piece_c, tally.clock_s[0] + piece_s
            if before_c > limit_c or piece_c > limit_c:
                tally.above_s[j] += _above(
                    modes, pull, slot, j, before_s, piece_s, before_c, piece_c, start_c, limit_c
                )
            before_s, before_c = piece_s, piece_c


@kernel
def _may_turn(modes: Modes, pull: Array, slot: Array, j: int, pieces: int) -> bool:
    """Whether node ``j`` turns inside the step, as far as its ``pieces`` show."""
    first, last = 0.0, 0.0
    for i in range(len(pull)):
        push = modes.response[i, j] * pull[i]
        first, last = first + push, last + push * slot[DECAY, i]
    if first * last <= 0.0:
        return True
    for grade in range(pieces):
        speed = 0.0
        for i in range(len(pull)):
            push = modes.response[i, j] * pull[i]
            speed += push * slot[GRADED + grade, i]
        if first * speed <= 0.0:
            return True
    return False


@kernel
def _at(modes: Modes, pull: Array, slot: Array, j: int, start_c: float, t: float) -> float:
    """Temperature of node ``j`` [degC], ``t`` [s] into the step."""
    total = start_c
    for i in range(len(pull)):
        push = modes.response[i, j] * pull[i]
        rate = modes.rate[i]
        total += push * (-np.expm1(-rate * t) / rate if rate > 0.0 else t)
    return total


@kernel
def _speed(modes: Modes, pull: Array, slot: Array, j: int, t: float) -> float:
    """Derivative of node ``j`` [K/s], ``t`` [s] into the step."""
    total = 0.0
    for i in range(len(pull)):
        total += modes.response[i, j] * pull[i] * np.exp(-modes.rate[i] * t)
    return total


@kernel
def _turning(modes: Modes, pull: Array, slot: Array, j: int, low: float, high: float) -> float:
    """Where node ``j`` turns between two instants [s]; the later one if it does not."""
    below, above = _speed(modes, pull, slot, j, low), _speed(modes, pull, slot, j, high)
    if below * above >= 0.0:
        return high
    enough = ROOT_SHARE * max(abs(below), abs(above))
    middle, side = 0.5 * (low + high), 0
    for _ in range(MOST_NARROWINGS):
        middle = _between(low, high, below, above)
        speed = _speed(modes, pull, slot, j, middle)
        if abs(speed) <= enough:
            break
        if (speed > 0.0) == (below > 0.0):
            low, below = middle, speed
            above *= 0.5 if side < 0 else 1.0
            side = -1
        else:
            high, above = middle, speed
            below *= 0.5 if side > 0 else 1.0
            side = 1
    return middle


@inlined
def _between(low: float, high: float, below: float, above: float) -> float:
    """Where the straight line between the ends of a bracket is zero, inside the bracket."""
    middle = low + (high - low) * (below / (below - above))
    return middle if low < middle < high else 0.5 * (low + high)


@kernel
def _above(
    modes: Modes,
    pull: Array,
    slot: Array,
    j: int,
    low: float,
    high: float,
    low_c: float,
    high_c: float,
    start_c: float,
    limit_c: float,
) -> float:
    """Time [s] above the limit in a piece without turning points, one end of which is above."""
    if low_c > limit_c and high_c > limit_c:
        return high - low
    begin, end = low, high
    below, above = low_c - limit_c, high_c - limit_c
    middle, side = 0.5 * (low + high), 0
    for _ in range(MOST_NARROWINGS):
        middle = _between(low, high, below, above)
        over = _at(modes, pull, slot, j, start_c, middle) - limit_c
        if abs(over) <= CROSSING_K:
            break
        if (over > 0.0) == (below > 0.0):
            low, below = middle, over
            above *= 0.5 if side < 0 else 1.0
            side = -1
        else:
            high, above = middle, over
            below *= 0.5 if side > 0 else 1.0
            side = 1
    return middle - begin if low_c > limit_c else end - middle
