"""What happens inside a step of eight units side by side: which of them must be looked at closer.

As ``derate.plant.extremes``: a node that moves one way has its peak at an end.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from derate.compiled import inlined
from derate.lanes import bits, every, put, side, where
from derate.plant.crests_abreast import fill_crests
from derate.plant.emission import END, FIRST
from derate.plant.extremes import ROUNDING_K, SETTLED_K
from derate.plant.factors import CHARGE, DECAY, GRADED
from derate.plant.state import BEGIN, FINISH, HELD, Interval
from derate.plant.tally import Tally

Array = NDArray[np.float64]
Sides = Any

NOT_ALIKE = -1
"""For ``pieces``: units have different numbers of graded instants."""
PEAK, AT_END = range(2)
"""Rows of ``rising``: the peak of each node after the step, and whether it is at its end."""


@inlined
def _bound(machine: Sides, modes: Sides, state: Sides, interval: Interval) -> None:
    """Fill ``state.ripple_k`` with what no crest of the step exceeds [K]."""
    emission, groups, count = machine.emission, state.ripple_k.shape[0], modes.rate.shape[0]
    for g in range(groups):
        put(state.ripple_k, 0.0, g)
    for c in range(emission.channel_of.shape[0]):
        duty = side(interval.duties, c)
        dimmed = (duty > 0.0) & (duty < 1.0)
        if bits(dimmed) == 0:
            continue
        per_duty = where(dimmed, 1.0 / max(duty, 1e-300), 0.0)
        for b in range(emission.channel_of[c, FIRST, 0], emission.channel_of[c, END, 0]):
            for u in range(emission.branch_of[b, FIRST, 0], emission.branch_of[b, END, 0]):
                on_heat_w = side(state.cause, HELD, count + u) * per_duty
                for g in range(groups):
                    swell = on_heat_w * side(state.swell_k_per_w, u, g)
                    put(state.ripple_k, side(state.ripple_k, g) + swell, g)


@inlined
def _tops(modes: Sides, state: Sides, slot: Array, j: int, pieces: int) -> Any:
    """Which units have node ``j`` rise and then fall, as its graded instants show."""
    count = modes.rate.shape[0]
    before, last = every(0.0), every(0.0)
    for i in range(count):
        speed = side(modes.response, i, j) * side(state.moved, i) / side(slot, CHARGE, i)
        before += speed
        last += speed * side(slot, DECAY, i)
    tops = before > before
    for grade in range(pieces - 1, -1, -1):
        after = every(0.0)
        for i in range(count):
            speed = side(modes.response, i, j) * side(state.moved, i) / side(slot, CHARGE, i)
            after += speed * side(slot, GRADED + grade, i)
        tops = tops | ((before > 0.0) & (after <= 0.0))
        before = after
    return tops | ((before > 0.0) & (last <= 0.0))


@inlined
def watch(
    machine: Sides,
    modes: Sides,
    state: Sides,
    interval: Interval,
    tally: Tally,
    rising: Array,
    moments: Array,
    terms: int,
    slot: Array,
    pieces: int,
) -> int:
    """Fill ``rising`` (2, N); returns the bits of the units that must be looked at closer."""
    count, nodes, first = modes.rate.shape[0], state.node_c.shape[1], machine.junction[0]
    groups = state.ripple_k.shape[0]
    sway = every(0.0)
    for i in range(count):
        sway += side(modes.reach, i) * abs(side(state.moved, i))
    _bound(machine, modes, state, interval)
    may_count = 0
    for g in range(groups):
        high = max(side(state.node_c, BEGIN, first + g), side(state.node_c, FINISH, first + g))
        most, crest = high + side(state.ripple_k, g) + sway, side(state.ripple_k, g)
        peak, limit = side(tally.peak_c, first + g), side(machine.limits_c, first + g)
        may_count |= bits(((most > peak) | (most > limit)) & (crest > 0.0))
    if may_count != 0:
        if terms == 0:
            return may_count
        fill_crests(machine, state, interval, moments, terms, count)
    alone = 0
    for j in range(nodes):
        peak, limit = side(tally.peak_c, j), side(machine.limits_c, j)
        start, end = side(state.node_c, BEGIN, j), side(state.node_c, FINISH, j)
        high = max(start, end)
        if first <= j < first + groups:
            high += side(state.ripple_k, j - first)
        most = high + sway
        put(rising, peak, PEAK, j)
        needed = (most > peak) | (most > limit)
        if bits(needed) == 0:
            continue
        upward = every(0.0)
        for i in range(count):
            upward += max(side(modes.response, i, j) * side(state.moved, i), 0.0)
        beyond = max(min(upward, upward - (end - start)), 0.0)
        beyond = where(sway > SETTLED_K, beyond, 0.0)
        turns = needed & (beyond > SETTLED_K) & (high + beyond > peak + SETTLED_K)
        if pieces != NOT_ALIKE and bits(turns) != 0:
            turns = turns & _tops(modes, state, slot, j, pieces)
        alone |= bits(turns | (needed & (high + beyond > limit)))
        higher = high > peak + ROUNDING_K
        put(rising, where(higher, high, peak), PEAK, j)
        put(rising, where(end >= start, 1.0, 0.0), AT_END, j)
    return alone
