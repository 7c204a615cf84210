"""The plant over an interval of constant duties, requests and ambients.

The network moves exactly under constant heat. The heat itself depends on the junction
temperatures, so the interval is cut into steps: over each, the heat is held at its value for the
mean junction temperatures that the heat at the step's beginning would give. A step is good if the
heat at its end differs so little from what was held that no temperature could have moved by more
than the tolerance,

    sum over inputs of |q(end) - q(held)| * RISE(h) <= tolerance;

otherwise it is cut shorter, and steps grow again after the fast modes have settled. Everything
that is booked is exact for the heat held: stored energy + heat into the ambients = heat put in.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.plant.emission import (
    ASKED_LM,
    CURRENT,
    DRIVEN,
    ELECTRICAL_W,
    END,
    FIRST,
    LIGHT_LM,
    Emission,
    Lit,
    dark,
    emit,
)
from derate.plant.extremes import watch
from derate.plant.modes import CHARGE, DECAY, MEAN_CHARGE, MEAN_HOLD, RISE, Modes, factors
from derate.plant.tally import Tally

Array = NDArray[np.float64]

BEGIN, HELD, FINISH = range(3)
"""Stages of a step: rows of heat and output, of the causes and of the temperatures."""
SHORTEST_S = 1e-9
"""Steps are not cut below this length [s]."""
NOTHING_SEEN = np.array([[np.inf], [-np.inf]])
"""Least and largest of nothing."""
MOST_CUTS = 6
"""A step is halved at most this often at once."""


class Machine(NamedTuple):
    """What is constant while a plant runs; ``junction``: index of the first junction node."""

    emission: Emission
    limits_c: Array
    junction: int


class State(NamedTuple):
    """Where the plant is, and room to work in; rows are the stages of a step.

    ``cause`` (3, n + U + M): modes, heat inputs [W], ambients [degC]; ``node_c`` (3, N) [degC];
    ``push`` (n); ``moved`` (n); ``output`` (3, 3, channels); ``duty`` (channels); ``seen_c`` (2, G)
    and ``seen_a`` (2, B): least and largest junction temperature [degC] and branch current [A]
    while lit; ``lit``: currents.
    """

    cause: Array
    node_c: Array
    push: Array
    moved: Array
    output: Array
    duty: Array
    seen_c: Array
    seen_a: Array
    lit: Lit


class Interval(NamedTuple):
    """What acts on the plant: per channel, per channel, per ambient [degC], per sensor [W]."""

    duties: Array
    requests: Array
    ambient_c: Array
    sensor_heat_w: Array


def state_of(modes: Modes, emission: Emission, node_c: Array) -> State:
    """State at the node temperatures ``node_c`` [degC], dark, the ambients not yet known."""
    count, channels = len(modes.rate), len(emission.channel)
    cause = np.zeros((3, modes.response.shape[0]))
    cause[BEGIN, :count] = modes.project @ node_c
    return State(
        cause=cause,
        node_c=np.tile(node_c, (3, 1)),
        push=np.zeros(count),
        moved=np.zeros(count),
        output=np.zeros((3, 3, channels)),
        duty=np.zeros(channels),
        seen_c=NOTHING_SEEN * np.ones(len(emission.group)),
        seen_a=NOTHING_SEEN * np.ones(len(emission.branch)),
        lit=dark(emission),
    )


@compiled
def advance(machine, modes, state, tally, interval, dt_s, max_step_s, tolerance_k):
    """Advance ``state`` by ``dt_s`` [s] and book it in ``tally``.

    ``max_step_s`` [s] caps the steps; ``tolerance_k`` [K] is the error allowed in each of them.
    """
    _begin(machine, modes, state, interval)
    done = 0.0
    h = min(dt_s, max_step_s)
    while done < dt_s:
        left = dt_s - done
        last = h >= left * (1.0 - 1e-12)
        if last:
            h = left
        slot = factors(modes, h)
        miss_k = _try_step(machine, modes, state, interval, slot)
        if miss_k > tolerance_k and h > SHORTEST_S:
            cuts = min(MOST_CUTS, max(1, int(np.ceil(0.5 * np.log2(miss_k / tolerance_k)))))
            h *= 0.5**cuts
            continue
        _book(machine, modes, state, tally, interval, slot, h)
        done = dt_s if last else done + h
        if 4.0 * miss_k < tolerance_k:
            h = min(2.0 * h, max_step_s)


@compiled
def replay(machine, stack, which, state, tally, intervals, dt_s, finer, tolerance_k, node_c):
    """Advance through recorded intervals; ``node_c`` (K, N) receives the temperatures after each.

    ``stack``: the modes of all configurations, one above the other; ``which`` (K): the
    configuration of each interval; ``intervals``: an ``Interval`` with one row each; ``finer``:
    largest step as a fraction of the interval [-].
    """
    for k in range(len(dt_s)):
        c = which[k]
        modes = Modes(
            stack.rate[c],
            stack.drive[c],
            stack.response[c],
            stack.project[c],
            stack.reach[c],
            stack.memo[c],
            stack.massless,
        )
        if k == 0 or c != which[k - 1]:
            project(modes, state)
        interval = Interval(
            intervals.duties[k],
            intervals.requests[k],
            intervals.ambient_c[k],
            intervals.sensor_heat_w[k],
        )
        advance(machine, modes, state, tally, interval, dt_s[k], finer * dt_s[k], tolerance_k)
        node_c[k] = state.node_c[BEGIN]


@compiled
def project(modes, state):
    """Take the temperatures of the nodes of capacity over into other modes."""
    for i in range(modes.project.shape[0]):
        total = 0.0
        for j in range(modes.project.shape[1]):
            total += modes.project[i, j] * state.node_c[BEGIN, j]
        state.cause[BEGIN, i] = total


@compiled
def _begin(machine, modes, state, interval):
    """Heat and light at the beginning; massless nodes follow at once."""
    count, groups = modes.rate.shape[0], machine.emission.group.shape[0]
    ambient = state.cause.shape[1] - interval.ambient_c.shape[0]
    for stage in range(3):
        state.cause[stage, ambient:] = interval.ambient_c
        first = count + groups
        state.cause[stage, first : first + len(interval.sensor_heat_w)] = interval.sensor_heat_w
    _emit(machine, state, interval, BEGIN, count)
    if modes.massless:
        read_nodes(modes, state, BEGIN)


@compiled
def _emit(machine, state, interval, stage, count):
    """Heat and output of a stage from its junction temperatures."""
    emit(
        machine.emission,
        state.lit,
        state.node_c[stage, machine.junction :],
        interval.duties,
        interval.requests,
        state.cause[stage, count:],
        state.output[stage],
    )


@compiled
def read_nodes(modes, state, stage):
    """Temperatures of all nodes from the causes of a stage."""
    nodes = state.node_c.shape[1]
    causes = state.cause.shape[1] if modes.massless else modes.rate.shape[0]
    state.node_c[stage] = 0.0
    for k in range(causes):
        weight = state.cause[stage, k]
        for j in range(nodes):
            state.node_c[stage, j] += modes.response[k, j] * weight


@compiled
def _try_step(machine, modes, state, interval, slot):
    """Step from BEGIN to FINISH with the heat of HELD; returns the possible error [K]."""
    count, driven = modes.rate.shape[0], modes.drive.shape[0]
    first, end = machine.junction, machine.junction + machine.emission.group.shape[0]
    cause, push, temperature = state.cause, state.push, state.node_c
    push[:] = 0.0
    for u in range(driven):
        for i in range(count):
            push[i] += modes.drive[u, i] * cause[BEGIN, count + u]
    temperature[HELD, first:end] = 0.0
    for i in range(count):
        mean = cause[BEGIN, i] * slot[MEAN_HOLD, i] + push[i] * slot[MEAN_CHARGE, i]
        for j in range(first, end):
            temperature[HELD, j] += modes.response[i, j] * mean
    _emit(machine, state, interval, HELD, count)
    for u in range(driven):
        change = cause[HELD, count + u] - cause[BEGIN, count + u]
        if change != 0.0:
            for i in range(count):
                push[i] += modes.drive[u, i] * change
    for i in range(count):
        z = cause[BEGIN, i]
        cause[FINISH, i] = z * slot[DECAY, i] + push[i] * slot[CHARGE, i]
        cause[HELD, i] = z * slot[MEAN_HOLD, i] + push[i] * slot[MEAN_CHARGE, i]
    cause[FINISH, count:] = cause[HELD, count:]
    read_nodes(modes, state, FINISH)
    _emit(machine, state, interval, FINISH, count)
    miss_k = 0.0
    for u in range(driven - interval.ambient_c.shape[0]):
        miss_k += abs(cause[FINISH, count + u] - cause[HELD, count + u]) * slot[RISE, u]
    return miss_k


@compiled
def _book(machine, modes, state, tally, interval, slot, h):
    """Book the step in the tally and make its end the new beginning."""
    count, nodes = modes.rate.shape[0], state.node_c.shape[1]
    cause, output = state.cause, state.output
    for i in range(count):
        state.moved[i] = cause[FINISH, i] - cause[BEGIN, i]
    watch(
        modes, state.moved, slot, state.node_c[BEGIN], state.node_c[FINISH], machine.limits_c, tally, h
    )
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
    _see(machine, state, interval)
    cause[BEGIN] = cause[FINISH]
    state.node_c[BEGIN] = state.node_c[FINISH]
    output[BEGIN] = output[FINISH]
    tally.clock_s[0] += h


@compiled
def _see(machine, state, interval):
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
