"""The heat inputs of one stage of a step, from the temperatures of that stage.

A surface sheds more or less than the conductance that stands for it in the network; what the
conductance carries too much is given back as heat into the surface's node,

    q = reference (T - T_a) - heat_out(T, T_a, airflow)

with T, T_a [degC] of node and ambient, reference [W/K]. A node of capacity keeps its T whatever q
is. A massless one follows at once, by own [K/W]: there q is the root of q = correction(T(q)), which
Newton's method finds surface by surface. There is one root, since heat_out rises with T.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import HEAT, shine, weigh
from derate.plant.kernel import inlined, kernel
from derate.plant.modes import Modes
from derate.plant.state import BEGIN, Interval, Machine, State
from derate.plant.surface.exchange import Exchange, heat_out_w

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
        correct(machine.exchange, modes, state.node_c[stage], state.cause[stage], interval)


@kernel
def correct(
    exchange: Exchange, modes: Modes, node_c: Array, cause: Array, interval: Interval
) -> None:
    """Fill the surfaces' heat inputs in ``cause`` (n + U + M) from all that acts at its stage.

    ``node_c`` (N): temperatures of the nodes of capacity that have surfaces [degC].
    """
    surfaces = exchange.node.shape[0]
    ambient = cause.shape[0] - interval.ambient_c.shape[0]
    first, airflow = ambient - surfaces, interval.airflow[0]
    rounds = MOST_ROUNDS if modes.massless else 1
    for _ in range(rounds):
        worst_k = 0.0
        for s in range(surfaces):
            node = exchange.node[s]
            own, at_c = modes.response[first + s, node], node_c[node]
            if own > 0.0:
                at_c = 0.0
                for k in range(cause.shape[0]):
                    at_c += modes.response[k, node] * cause[k]
            outside_c = cause[ambient + exchange.ambient[s]]
            change = correction_w(exchange, s, at_c, outside_c, airflow) - cause[first + s]
            if own > 0.0:
                more = correction_w(exchange, s, at_c + PROBE_K, outside_c, airflow)
                less = correction_w(exchange, s, at_c - PROBE_K, outside_c, airflow)
                change /= 1.0 - own * (more - less) / (2.0 * PROBE_K)
                worst_k = max(worst_k, abs(change) * own)
            cause[first + s] += change
        if worst_k <= EXACT_K:
            break


@kernel
def correction_w(
    exchange: Exchange, s: int, at_c: float, outside_c: float, airflow: float
) -> float:
    """What the reference conductance of surface ``s`` carries beyond what it sheds [W]."""
    shed_w = heat_out_w(exchange, s, at_c, outside_c, airflow)
    return exchange.reference_w_per_k[s] * (at_c - outside_c) - shed_w
