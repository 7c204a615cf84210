"""Thermal impedances of each channel's hottest junction, from its own heat."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from derate.plant.network import Network
from derate.plant.rest import Rest
from derate.plant.zth import Step, steps
from derate.study.operating import Operating

Array = NDArray[np.float64]

SHORTEST_S, PER_DECADE = 1e-6, 20
LEAST_RISE_K = 1e-3
"""A surface no warmer than this keeps the conductance that stands for it."""
SETTLED = 10.0
"""Times reach to this many of the longest time constants."""


@dataclass(frozen=True, eq=False)
class Impedance:
    """Rise per watt [K/W] over ``time_s`` (n) [s] of one watt more in every emitter of the channel.

    Of the hottest junction above ambient (``ambient_k_per_w``), above its solder node
    (``solder_k_per_w``), and above each of ``to`` (name -> (n,) [K/W]), the board or the sensors'
    nodes. Surfaces are taken at the conductance they have at the point.
    """

    channel: str
    time_s: Array
    solder_k_per_w: Array
    ambient_k_per_w: Array
    to: dict[str, Array]


def impedances(lamp: Operating, rest: Rest) -> tuple[Impedance, ...]:
    """The impedances of every channel."""
    plant = lamp.resting
    watts = np.zeros((len(lamp.names), len(plant.junctions)))
    for g, group in enumerate(plant.assembly.groups):
        watts[plant.first_junction + g, group.channel] = group.count
    found = steps(_as_it_sheds(lamp, rest), watts)
    decades = np.log10(SETTLED * found[0].time_constant_s[-1] / SHORTEST_S)
    time_s = np.geomspace(
        SHORTEST_S, SHORTEST_S * 10.0**decades, int(np.ceil(decades * PER_DECADE)) + 1
    )
    return tuple(
        _impedance(lamp, name, node, time_s, step)
        for (name, node), step in zip(lamp.hottest(rest).items(), found, strict=True)
    )


def _as_it_sheds(lamp: Operating, rest: Rest) -> Network:
    """The network with the conductances that surfaces have at this rest."""
    network, exchange = lamp.resting.network, lamp.resting.assembly.exchange
    conductance, to_ambient = network.conductance_w_per_k.copy(), network.ambient_w_per_k.copy()
    inputs = lamp.resting.surface_inputs
    at_c = network.inject[:, inputs].T @ rest.node_c
    rise_k = at_c - rest.ambient_c[exchange.ambient]
    for s in np.flatnonzero(np.abs(rise_k) > LEAST_RISE_K):
        share = np.diag(network.inject[:, inputs][:, s])
        if s >= len(lamp.lamp.surfaces):
            area_m2, matrix_m2 = lamp.face(lamp.sides[s - len(lamp.lamp.surfaces)])
            share = matrix_m2 / area_m2
        more_w_per_k = -rest.heat_w[inputs][s] / rise_k[s] * share
        conductance += more_w_per_k
        to_ambient[:, exchange.ambient[s]] += more_w_per_k.sum(axis=1)
    return replace(network, conductance_w_per_k=conductance, ambient_w_per_k=to_ambient)


def _impedance(lamp: Operating, name: str, node: int, time_s: Array, step: Step) -> Impedance:
    """Of one channel's hottest junction, from what the channel's heat does to all nodes."""
    junction = lamp.names[node]
    solder = lamp.resting.assembly.groups[node - lamp.resting.first_junction].node
    others = [lamp.lamp.sensor_node(sensor) for sensor in lamp.lamp.sensors]
    others += ["board"] if "board" in lamp.names else []

    def above(reference: str) -> Array:
        place = lamp.names[lamp.node(reference)]
        return step.of(junction, reference=place).after(time_s)

    return Impedance(
        name,
        time_s,
        above(solder),
        step.of(junction).after(time_s),
        {other: above(other) for other in dict.fromkeys(others) if other != solder},
    )
