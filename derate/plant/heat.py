"""The heat inputs of one stage of a step, from the temperatures of that stage.

A surface sheds more or less than the conductance that stands for it in the network; what the
conductance carries too much is given back as heat into the surface's node,

    q = reference (T - T_a) - heat_out(T, T_a, airflow)

with T, T_a [degC] of node and ambient, reference [W/K]. A node of capacity keeps its T whatever q
is. A massless one follows at once, by own [K/W]: there q is the root of q = correction(T(q)), which
Newton's method finds surface by surface. There is one root, since heat_out rises with T.

A face of the board is not evenly warm (``derate.plant.surface.uneven``). It convects by its mean
temperature T, everywhere alike; it radiates by its temperature at each place, to the second order
of what this differs from the mean.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import HEAT, shine, weigh
from derate.plant.kernel import inlined, kernel
from derate.plant.modes import Modes
from derate.plant.state import BEGIN, Interval, Machine, State
from derate.plant.surface.exchange import Exchange, heat_out_w, sheds_w_per_k
from derate.plant.surface.fluid import KELVIN
from derate.plant.surface.radiation import STEFAN_BOLTZMANN_W_PER_M2_K4
from derate.plant.surface.uneven import CURVED

Array = NDArray[np.float64]

MOST_ROUNDS = 100
"""Rounds over the surfaces of massless nodes; few are needed unless many hang together."""
EXACT_K = 1e-10
"""A surface of a massless node is solved when its node would move by less [K]."""
PROBE_K = 1e-3
"""Half the difference that gives the slope of a surface's heat [K]."""


@inlined
def put_in(
    machine: Machine, modes: Modes, state: State, interval: Interval, stage: int, count: int
) -> None:
    """Heat inputs and output of a stage: emitters and losses first, then surfaces.

    A step begins at the temperatures at which the one before ended, so that under PWM its groups
    give the same while on.
    """
    emission, lit, junction_c = machine.emission, state.lit, state.node_c[stage, machine.junction :]
    if stage != BEGIN or not emission.pwm or np.isnan(lit.glow[HEAT, 0]):
        shine(emission, lit, junction_c, interval.duties, interval.requests)
    heat_w = state.cause[stage, count:]
    weigh(emission, lit, interval.duties, interval.requests, heat_w, state.output[stage])
    if machine.exchange.node.shape[0] > 0:
        correct(machine.exchange, modes, state.cause[stage], state.felt, interval)


@kernel
def correct(
    exchange: Exchange, modes: Modes, cause: Array, felt: Array, interval: Interval
) -> None:
    """Fill the surfaces' heat inputs in ``cause`` (n + U + M) from all that acts at its stage.

    ``felt`` (U) receives the temperatures that they follow.
    """
    inputs = exchange.node.shape[0] + exchange.cubes.shape[0]
    begin, first = felt.shape[0] - inputs, cause.shape[0] - interval.ambient_c.shape[0] - inputs
    seen = cause.shape[0] if modes.massless else modes.rate.shape[0]
    ambient_c, airflow = cause[first + inputs :], interval.airflow[0]
    for u in range(begin, begin + inputs):
        felt[u] = 0.0
        for k in range(seen):
            felt[u] += modes.felt[u, k] * cause[k]
    for s in range(exchange.node.shape[0]):
        corrections_w(exchange, s, felt[begin:], ambient_c, airflow, cause[first : first + inputs])
    if modes.massless:
        _settle(exchange, modes, cause, felt, interval)


@kernel
def _settle(
    exchange: Exchange, modes: Modes, cause: Array, felt: Array, interval: Interval
) -> None:
    """Find the heat inputs of surfaces of massless nodes, which move these nodes at once."""
    inputs = exchange.node.shape[0] + exchange.cubes.shape[0]
    begin, ambient = felt.shape[0] - inputs, cause.shape[0] - interval.ambient_c.shape[0]
    airflow = interval.airflow[0]
    for _ in range(MOST_ROUNDS):
        worst_k = 0.0
        for s in range(exchange.node.shape[0]):
            u, q = begin + s, ambient - inputs + s
            own, at_c = modes.felt[u, q], 0.0
            if own <= 0.0:
                continue
            for k in range(cause.shape[0]):
                at_c += modes.felt[u, k] * cause[k]
            outside_c = cause[ambient + exchange.ambient[s]]
            change = correction_w(exchange, s, at_c, outside_c, airflow) - cause[q]
            more = correction_w(exchange, s, at_c + PROBE_K, outside_c, airflow)
            less = correction_w(exchange, s, at_c - PROBE_K, outside_c, airflow)
            change /= 1.0 - own * (more - less) / (2.0 * PROBE_K)
            worst_k = max(worst_k, abs(change) * own)
            cause[q] += change
        if worst_k <= EXACT_K:
            break


@kernel
def correction_w(
    exchange: Exchange, s: int, at_c: float, outside_c: float, airflow: float
) -> float:
    """What the reference conductance of surface ``s`` carries beyond what it sheds [W]."""
    shed_w = heat_out_w(exchange, s, at_c, outside_c, airflow)
    return exchange.reference_w_per_k[s] * (at_c - outside_c) - shed_w


@kernel
def corrections_w(
    exchange: Exchange, s: int, felt: Array, ambient_c: Array, airflow: float, heat_w: Array
) -> None:
    """The same in ``heat_w`` (S + P) for its mean and for each of its patterns.

    ``felt`` (S + P): mean temperatures of surfaces [degC], then how strong each pattern is [K].
    """
    at_c, outside_c = felt[s], ambient_c[exchange.ambient[s]]
    each_w_per_k = sheds_w_per_k(exchange, s, at_c, outside_c, airflow)
    left_w_per_k = exchange.reference_w_per_k[s] - each_w_per_k
    heat_w[s] = left_w_per_k * (at_c - outside_c)
    surfaces, first, end = exchange.node.shape[0], exchange.patterns[s], exchange.patterns[s + 1]
    if first == end:
        return
    black = STEFAN_BOLTZMANN_W_PER_M2_K4 * exchange.black_m2[s]
    here_k, outside_k = at_c + KELVIN, outside_c + KELVIN
    together = (here_k * here_k + outside_k * outside_k) * (here_k + outside_k)
    left_w_per_k -= black * (4.0 * here_k**3 - together)
    bend = 6.0 * black * here_k * here_k
    for k in range(first, end):
        x = felt[surfaces + k]
        heat_w[surfaces + k] = left_w_per_k * x
        heat_w[s] -= bend * x * x
    curved = min(end - first, CURVED)
    for k in range(first, first + curved):
        for j in range(curved):
            for i in range(curved):
                both = felt[surfaces + first + j] * felt[surfaces + first + i]
                heat_w[surfaces + k] -= bend * exchange.cubes[k, j, i] * both
