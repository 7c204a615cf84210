"""Thermal impedances of each channel's hottest junction, from its own heat."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from derate.plant.modes import modes_of
from derate.plant.rest import Rest
from derate.study.operating import Operating

Array = NDArray[np.float64]

SHORTEST_S, PER_DECADE = 1e-6, 20
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
    inject = np.zeros((len(lamp.names), len(plant.junctions)))
    for g, group in enumerate(plant.groups):
        inject[plant.first_junction + g, group.channel] = group.count
    modes = modes_of(replace(plant.network, inject=inject))
    nodes, count = len(lamp.names), len(modes.rate)
    slowest_s = 1.0 / modes.rate.min()
    decades = np.log10(SETTLED * slowest_s / SHORTEST_S)
    time_s = SHORTEST_S * 10.0 ** np.linspace(0.0, decades, int(np.ceil(decades * PER_DECADE)) + 1)
    passed = -np.expm1(-np.outer(time_s, modes.rate)) / modes.rate
    found = []
    for c, (name, node) in enumerate(lamp.hottest(rest).items()):
        rise = passed * modes.drive[c] @ modes.response[:count, :nodes]
        rise += modes.response[count + c, :nodes]
        found.append(_impedance(lamp, name, node, time_s, rise))
    return tuple(found)


def _impedance(lamp: Operating, name: str, node: int, time_s: Array, rise: Array) -> Impedance:
    """The rises of one channel's hottest junction among those of all nodes, ``rise`` (n, N)."""
    solder = lamp.resting.groups[node - lamp.resting.first_junction].node
    others = [lamp.lamp.sensor_node(sensor) for sensor in lamp.lamp.sensors]
    others += ["board"] if "board" in lamp.names else []
    return Impedance(
        name,
        time_s,
        rise[:, node] - rise[:, lamp.names.index(solder)],
        rise[:, node],
        {
            other: rise[:, node] - rise[:, lamp.names.index(other)]
            for other in dict.fromkeys(others)
            if other != solder
        },
    )
