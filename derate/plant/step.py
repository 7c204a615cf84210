"""One step under held heat: from its beginning to its end, and into the books."""

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import (
    ASKED_LM,
    CURRENT,
    DRIVEN,
    ELECTRICAL_W,
    END,
    FIRST,
    LIGHT_LM,
)
from derate.plant.extremes import watch
from derate.plant.factors import CHARGE, DECAY, MEAN_CHARGE, MEAN_HOLD, RISE
from derate.plant.heat import put_in
from derate.plant.kernel import inlined
from derate.plant.modes import Modes
from derate.plant.state import BEGIN, FINISH, HELD, Interval, Machine, State
from derate.plant.tally import Tally
from derate.plant.weighted import weighted_sum

Array = NDArray[np.float64]


@inlined
def begin(machine: Machine, modes: Modes, state: State, interval: Interval) -> None:
    """Heat and light at the beginning; massless nodes follow at once."""
    count, groups = modes.rate.shape[0], machine.emission.group.shape[0]
    ambient = state.cause.shape[1] - interval.ambient_c.shape[0]
    for stage in range(3):
        for m in range(interval.ambient_c.shape[0]):
            state.cause[stage, ambient + m] = interval.ambient_c[m]
        for s in range(interval.sensor_heat_w.shape[0]):
            state.cause[stage, count + groups + s] = interval.sensor_heat_w[s]
    put_in(machine, modes, state, interval, BEGIN, count)
    if modes.massless:
        read_nodes(modes, state, BEGIN)


@inlined
def read_nodes(modes: Modes, state: State, stage: int) -> None:
    """Temperatures of all nodes from the causes of a stage."""
    causes = state.cause.shape[1] if modes.massless else modes.rate.shape[0]
    weighted_sum(state.cause[stage, :causes], modes.response, 0, state.node_c[stage])


@inlined
def try_step(
    machine: Machine, modes: Modes, state: State, interval: Interval, slot: Array
) -> float:
    """Step from BEGIN to FINISH with the heat of HELD; returns the possible error [K]."""
    count, driven = modes.rate.shape[0], modes.drive.shape[0]
    first, end = machine.junction, machine.junction + machine.emission.group.shape[0]
    cause, push, temperature = state.cause, state.push, state.node_c
    weighted_sum(cause[BEGIN, count:], modes.drive, 0, push)
    for i in range(count):
        cause[HELD, i] = cause[BEGIN, i] * slot[MEAN_HOLD, i] + push[i] * slot[MEAN_CHARGE, i]
    weighted_sum(cause[HELD, :count], modes.response, first, temperature[HELD, first:end])
    put_in(machine, modes, state, interval, HELD, count)
    for u in range(driven):
        change = cause[HELD, count + u] - cause[BEGIN, count + u]
        if change != 0.0:
            for i in range(count):
                push[i] += modes.drive[u, i] * change
    for i in range(count):
        z = cause[BEGIN, i]
        cause[FINISH, i] = z * slot[DECAY, i] + push[i] * slot[CHARGE, i]
        cause[HELD, i] = z * slot[MEAN_HOLD, i] + push[i] * slot[MEAN_CHARGE, i]
    for k in range(count, cause.shape[1]):
        cause[FINISH, k] = cause[HELD, k]
    read_nodes(modes, state, FINISH)
    put_in(machine, modes, state, interval, FINISH, count)
    miss_k = 0.0
    for u in range(driven - interval.ambient_c.shape[0]):
        miss_k += abs(cause[FINISH, count + u] - cause[HELD, count + u]) * slot[RISE, u]
    return miss_k


@inlined
def book(
    machine: Machine,
    modes: Modes,
    state: State,
    tally: Tally,
    interval: Interval,
    slot: Array,
    h: float,
) -> None:
    """Book the step in the tally and make its end the new beginning."""
    count, nodes = modes.rate.shape[0], state.node_c.shape[1]
    cause, output = state.cause, state.output
    for i in range(count):
        state.moved[i] = cause[FINISH, i] - cause[BEGIN, i]
        state.pull[i] = state.moved[i] / slot[CHARGE, i]
    watch(machine, modes, state, interval, slot, tally, h)
    for c in range(output.shape[2]):
        tally.light_lm_s[c] += h * output[HELD, LIGHT_LM, c]
        tally.asked_lm_s[c] += h * output[HELD, ASKED_LM, c]
        tally.electrical_j[0] += h * output[HELD, ELECTRICAL_W, c]
    for u in range(tally.heat_j.shape[0]):
        tally.heat_j[u] += h * cause[HELD, count + u]
    for m in range(tally.ambient_j.shape[0]):
        flow = 0.0
        for k in range(cause.shape[1]):
            flow += modes.response[k, nodes + m] * cause[HELD, k]
        tally.ambient_j[m] += h * flow
    for s in range(machine.exchange.node.shape[0]):
        corrected = cause[HELD, count + tally.heat_j.shape[0] + s]
        tally.ambient_j[machine.exchange.ambient[s]] -= h * corrected
    _see(machine, state, interval)
    for k in range(cause.shape[1]):
        cause[BEGIN, k] = cause[FINISH, k]
    for j in range(nodes):
        state.node_c[BEGIN, j] = state.node_c[FINISH, j]
    for c in range(output.shape[2]):
        for what in range(output.shape[1]):
            output[BEGIN, what, c] = output[FINISH, what, c]
    tally.clock_s[0] += h


@inlined
def _see(machine: Machine, state: State, interval: Interval) -> None:
    """Keep the extremes of junction temperature and current of what is lit."""
    emission = machine.emission
    for c in range(emission.channel_of.shape[0]):
        state.duty[c] = interval.duties[c]
        if interval.duties[c] <= 0.0:
            continue
        for b in range(emission.channel_of[c, FIRST], emission.channel_of[c, END]):
            current_a = state.lit.branch[DRIVEN, b, CURRENT]
            state.seen_a[0, b] = min(state.seen_a[0, b], current_a)
            state.seen_a[1, b] = max(state.seen_a[1, b], current_a)
            for g in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
                at_c = state.node_c[FINISH, machine.junction + g]
                state.seen_c[0, g] = min(state.seen_c[0, g], at_c)
                state.seen_c[1, g] = max(state.seen_c[1, g], at_c)
