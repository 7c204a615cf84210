"""One step of the plants of eight units side by side, as ``derate.plant.step`` does it for one.

All arrays are those of ``Machine``, ``Modes``, ``State`` and ``Interval`` with the unit as their
last axis. The whole interval is tried as one step. Units for which that is not good enough, or for
which it has to be looked closer at a peak, a crest or a limit, are named and left where they were:
``derate.plant.advance`` takes those. For dimming by PWM and branches that are alike in each
channel, so that no current changes. Heat is not booked by input and ambient.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from derate.lanes import LANES, alike, bits, but, every, lane_of, pick, put, side, where
from derate.plant.curve import ANCHOR, C0, C1, C2, C3, START
from derate.plant.emission import (
    ASKED_LM,
    COUNT,
    CURRENT,
    DRIVEN,
    ELECTRICAL_W,
    END,
    FIRST,
    FULL_A,
    HEAT,
    KIND,
    LIGHT,
    LIGHT_LM,
    LUMENS,
    POWER,
    REFERENCE_C,
    SLOPE,
    VOLTS,
    WATTS,
    WISH,
    Lit,
)
from derate.plant.emitter import LUMINOUS_RATIO, RADIANT_RATIO
from derate.plant.factors import CHARGE, DECAY, MEAN_CHARGE, MEAN_HOLD, RISE
from derate.plant.kernel import inlined, kernel
from derate.plant.state import BEGIN, FINISH, HELD, Interval
from derate.plant.tally import Tally
from derate.plant.watch_abreast import AT_END, PEAK, watch

Array = NDArray[np.float64]
Numbers = Any
"""A number of each of the units."""
Sides = Any
"""A named tuple of which each array, and each number, has the unit as its last axis."""

ALL = (1 << LANES) - 1
"""Every unit."""


@inlined
def weighted(weights: Array, stage: int, first: int, count: int, matrix: Array, begin: int,
             column: int) -> Numbers:  # fmt: skip
    """sum over k < count of weights[stage, first + k] matrix[begin + k, column]."""
    total = every(0.0)
    for k in range(count):
        total += side(weights, stage, first + k) * side(matrix, begin + k, column)
    return total


@inlined
def curve_at(curves: Array, kind: int, curve: int, x: Numbers) -> Numbers:
    """A curve of an emitter at ``x``."""
    piece = every(0)
    for i in range(1, curves.shape[2]):
        piece += where(x >= side(curves, kind, curve, i, START), 1, 0)
    if alike(piece):
        row = lane_of(piece, 0)
        d = x - side(curves, kind, curve, row, ANCHOR)
        total = side(curves, kind, curve, row, C3)
        total = total * d + side(curves, kind, curve, row, C2)
        total = total * d + side(curves, kind, curve, row, C1)
        return total * d + side(curves, kind, curve, row, C0)
    d = x - pick(curves, piece, kind, curve, ANCHOR)
    total = pick(curves, piece, kind, curve, C3)
    total = total * d + pick(curves, piece, kind, curve, C2)
    total = total * d + pick(curves, piece, kind, curve, C1)
    return total * d + pick(curves, piece, kind, curve, C0)


@kernel
def shine(emission: Sides, lit: Lit, node_c: Array, first: int, stage: int, light: bool) -> None:
    """Fill ``lit.glow`` at the temperatures of a stage; light only where it is wanted."""
    for c in range(emission.channel_of.shape[0]):
        kind = emission.channel_of[c, KIND, 0]
        slope = side(emission.emitter, kind, SLOPE)
        reference_c = side(emission.emitter, kind, REFERENCE_C)
        for b in range(emission.channel_of[c, FIRST, 0], emission.channel_of[c, END, 0]):
            current = side(lit.branch, DRIVEN, b, CURRENT)
            for g in range(emission.branch_of[b, FIRST, 0], emission.branch_of[b, END, 0]):
                at_c, count = side(node_c, stage, first + g), side(emission.group, g, COUNT)
                volts = side(lit.branch, DRIVEN, b, VOLTS) + slope * (at_c - reference_c)
                electrical = max(current * volts, 0.0)
                ratio = max(curve_at(emission.curves, kind, RADIANT_RATIO, at_c), 0.0)
                radiant = side(lit.branch, DRIVEN, b, WATTS) * ratio
                put(lit.glow, count * max(electrical - radiant, 0.0), HEAT, g)
                put(lit.glow, count * electrical, POWER, g)
                if light:
                    ratio = max(curve_at(emission.curves, kind, LUMINOUS_RATIO, at_c), 0.0)
                    lumens = count * ratio * side(lit.branch, DRIVEN, b, LUMENS)
                    put(lit.glow, lumens, LIGHT, g)
                    put(lit.glow, lumens, WISH, g)


@kernel
def weigh(
    emission: Sides,
    glow: Array,
    duties: Array,
    requests: Array,
    cause: Array,
    output: Array,
    stage: int,
    count: int,
) -> None:
    """Heat inputs of a stage and its output, from what the groups give while on."""
    switched = emission.bypass_ohm[0] > 0.0 or emission.switching_w[0] > 0.0
    most = every(0.0)
    for c in range(duties.shape[0]):
        most = max(most, side(duties, c))
    lost, switches, more = every(0.0), every(0.0), side(emission.supply_per_load)
    for c in range(emission.channel.shape[0]):
        on = side(duties, c)
        asked = side(requests, c)
        light, wish, power = every(0.0), every(0.0), every(0.0)
        for b in range(emission.channel_of[c, FIRST, 0], emission.channel_of[c, END, 0]):
            for g in range(emission.branch_of[b, FIRST, 0], emission.branch_of[b, END, 0]):
                put(cause, on * side(glow, HEAT, g), stage, count + g)
                power += on * side(glow, POWER, g)
                light += on * side(glow, LIGHT, g)
                wish += asked * side(glow, WISH, g)
        if switched:
            current = side(emission.channel, c, FULL_A)
            bypassed = (1.0 - on) * current * current * side(emission.bypass_ohm)
            dimmed = (on > 0.0) & (on < 1.0)
            bypassed += where(dimmed, side(emission.switching_w), 0.0)
            bypassed = where(most > 0.0, bypassed, 0.0)
            switches += bypassed
            power += bypassed
        put(output, light, stage, LIGHT_LM, c)
        put(output, wish, stage, ASKED_LM, c)
        put(output, power * more, stage, ELECTRICAL_W, c)
        lost += power * (more - 1.0)
    if emission.loss_input[0] >= 0:
        put(cause, lost, stage, count + emission.loss_input[0])
    if emission.bypass_input[0] >= 0:
        put(cause, switches, stage, count + emission.bypass_input[0])


@inlined
def try_steps(
    machine: Sides,
    modes: Sides,
    state: Sides,
    interval: Interval,
    slot: Array,
    tally: Tally,
    rising: Array,
    moments: Array,
    terms: int,
    pieces: int,
    tolerance_k: float,
) -> int:
    """Step all units from BEGIN to FINISH; returns the bits of those for which that is no step."""
    count, driven = modes.rate.shape[0], modes.drive.shape[0]
    ambient = state.cause.shape[1] - interval.ambient_c.shape[0]
    first, groups = machine.junction[0], machine.emission.group.shape[0]
    sensors, massless = interval.sensor_heat_w.shape[0], modes.massless[0]
    cause, push, temperature = state.cause, state.push, state.node_c
    for stage in range(3):
        for m in range(interval.ambient_c.shape[0]):
            put(cause, side(interval.ambient_c, m), stage, ambient + m)
        for s in range(sensors):
            put(cause, side(interval.sensor_heat_w, s), stage, count + groups + s)
    emission, glow, output = machine.emission, state.lit.glow, state.output
    duties, requests = interval.duties, interval.requests
    weigh(emission, glow, duties, requests, cause, output, BEGIN, count)
    causes = cause.shape[1] if massless else count
    if massless:
        _read(modes, state, BEGIN, causes)
    for i in range(count):
        pushed = weighted(cause, BEGIN, count, driven, modes.drive, 0, i)
        put(push, pushed, i)
        mean = side(cause, BEGIN, i) * side(slot, MEAN_HOLD, i) + pushed * side(
            slot, MEAN_CHARGE, i
        )
        put(cause, mean, HELD, i)
    for g in range(groups):
        put(temperature, weighted(cause, HELD, 0, count, modes.response, 0, first + g), HELD,
            first + g)  # fmt: skip
    shine(emission, state.lit, temperature, first, HELD, True)
    weigh(emission, glow, duties, requests, cause, output, HELD, count)
    for u in range(driven - interval.ambient_c.shape[0]):
        change = side(cause, HELD, count + u) - side(cause, BEGIN, count + u)
        for i in range(count):
            put(push, side(push, i) + side(modes.drive, u, i) * change, i)
    for i in range(count):
        z, pushed = side(cause, BEGIN, i), side(push, i)
        put(cause, z * side(slot, DECAY, i) + pushed * side(slot, CHARGE, i), FINISH, i)
        put(cause, z * side(slot, MEAN_HOLD, i) + pushed * side(slot, MEAN_CHARGE, i), HELD, i)
    for k in range(count, cause.shape[1]):
        put(cause, side(cause, HELD, k), FINISH, k)
    _read(modes, state, FINISH, causes)
    shine(emission, state.lit, temperature, first, FINISH, False)
    weigh(emission, glow, duties, requests, cause, output, FINISH, count)
    miss = every(0.0)
    for u in range(driven - interval.ambient_c.shape[0]):
        moved = side(cause, FINISH, count + u) - side(cause, HELD, count + u)
        miss += abs(moved) * side(slot, RISE, u)
    for i in range(count):
        put(state.moved, side(cause, FINISH, i) - side(cause, BEGIN, i), i)
    alone: int = bits(miss > tolerance_k)
    if alone != ALL:
        alone |= watch(machine, modes, state, interval, tally, rising, moments, terms, slot, pieces)
    return alone


@inlined
def _read(modes: Sides, state: Sides, stage: int, causes: int) -> None:
    """Temperatures of all nodes from the causes of a stage; four columns share their weights."""
    cause, response, nodes = state.cause, modes.response, state.node_c.shape[1]
    for four in range(nodes // 4):
        j = 4 * four
        a, b, c, d = every(0.0), every(0.0), every(0.0), every(0.0)
        for k in range(causes):
            weight = side(cause, stage, k)
            a += weight * side(response, k, j)
            b += weight * side(response, k, j + 1)
            c += weight * side(response, k, j + 2)
            d += weight * side(response, k, j + 3)
        put(state.node_c, a, stage, j)
        put(state.node_c, b, stage, j + 1)
        put(state.node_c, c, stage, j + 2)
        put(state.node_c, d, stage, j + 3)
    for j in range(nodes // 4 * 4, nodes):
        put(state.node_c, weighted(cause, stage, 0, causes, response, 0, j), stage, j)


@inlined
def book_steps(state: Sides, tally: Tally, rising: Array, h: float, alone: int) -> None:
    """Book the step of all units but those ``alone``, and make its end their beginning."""
    mask = but(alone)
    for j in range(state.node_c.shape[1]):
        peak, now = side(tally.peak_c, j), side(rising, PEAK, j)
        higher = mask & (now > peak)
        if bits(higher) != 0:
            at_s = side(tally.clock_s, 0) + where(side(rising, AT_END, j) > 0.0, h, 0.0)
            put(tally.peak_c, where(higher, now, peak), j)
            put(tally.peak_at_s, where(higher, at_s, side(tally.peak_at_s, j)), j)
        _move(state.node_c, mask, j)
    step = where(mask, h, 0.0)
    electrical = side(tally.electrical_j, 0)
    for c in range(state.output.shape[2]):
        light = side(tally.light_lm_s, c) + step * side(state.output, HELD, LIGHT_LM, c)
        put(tally.light_lm_s, light, c)
        asked = side(tally.asked_lm_s, c) + step * side(state.output, HELD, ASKED_LM, c)
        put(tally.asked_lm_s, asked, c)
        electrical += step * side(state.output, HELD, ELECTRICAL_W, c)
    put(tally.electrical_j, electrical, 0)
    for k in range(state.cause.shape[1]):
        _move(state.cause, mask, k)
    put(tally.clock_s, side(tally.clock_s, 0) + step, 0)


@inlined
def _move(array: Array, mask: Any, k: int) -> None:
    put(array, where(mask, side(array, FINISH, k), side(array, BEGIN, k)), BEGIN, k)
