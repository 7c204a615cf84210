"""The lamp as a network of heat capacities, conductances and ambients.

    C dT/dt = -G T + G_ambient a + inject q

with T the node temperatures [degC], a those of the ambients [degC] and q the heat inputs [W].
Nodes are those of the lamp file, then one junction for each group of emitters that behave alike
(n emitters: resistance to the solder node R/n, capacity n C), then one for each sensor's body.
Heat inputs are one for each junction group, one for each sensor (its measuring current), and one
for the driver's loss if the lamp says where it goes.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.plant.channel import branches_of, groups_of, junction_names
from derate.plant.emitter import real_resistance_k_per_w

Array = NDArray[np.float64]

LOST = 1e-4
"""Largest share of a temperature difference that rounding may take from a node."""
STILL_AIR = 1e-9
"""Least airflow factor [-]: a massless node that only airflow reaches keeps a temperature."""


@dataclass(frozen=True)
class Network:
    """N nodes, M ambients, U heat inputs.

    ``capacitance_j_per_k`` (N), 0 for a massless node; ``conductance_w_per_k`` (N x N), symmetric,
    the ambients' conductances on its diagonal; ``ambient_w_per_k`` (N x M); ``inject`` (N x U),
    the share of each heat input that enters each node.
    """

    names: tuple[str, ...]
    capacitance_j_per_k: Array
    conductance_w_per_k: Array
    ambient_w_per_k: Array
    inject: Array


class _Wiring:
    """Links laid one by one."""

    def __init__(self, names: list[str], ambients: tuple[str, ...]) -> None:
        self.place = {name: i for i, name in enumerate(names)}
        self.ambient = {name: i for i, name in enumerate(ambients)}
        self.conductance = np.zeros((len(names), len(names)))
        self.to_ambient = np.zeros((len(names), len(ambients)))

    def link(self, one: str, other: str, conductance_w_per_k: float) -> None:
        """Connect two nodes, or a node and an ambient."""
        if one in self.ambient:
            one, other = other, one
        i = self.place[one]
        self.conductance[i, i] += conductance_w_per_k
        if other in self.ambient:
            self.to_ambient[i, self.ambient[other]] += conductance_w_per_k
            return
        j = self.place[other]
        self.conductance[j, j] += conductance_w_per_k
        self.conductance[i, j] -= conductance_w_per_k
        self.conductance[j, i] -= conductance_w_per_k


def assemble(
    lamp: Lamp, *, airflow: float = 1.0, degraded: dict[str, float] | None = None
) -> Network:
    """The network of ``lamp``.

    ``airflow``: factor [-] on the conductance of every link that the lamp file marks with airflow;
    ``degraded``: link name -> factor [-] on its resistance.
    """
    degraded = degraded or {}
    groups = groups_of(branches_of(lamp))
    junctions = junction_names(lamp, groups)
    bodies = [f"sensor.{name}" for name in lamp.sensors]
    names = [*lamp.nodes, *junctions, *bodies]
    wiring = _Wiring(names, lamp.ambients)
    capacitance = [node.capacitance_j_per_k for node in lamp.nodes.values()]
    for link in lamp.links:
        factor = degraded.get(link.name, 1.0) if link.name else 1.0
        flow = max(airflow, STILL_AIR) if link.airflow else 1.0
        wiring.link(link.between[0], link.between[1], flow / (link.resistance_k_per_w * factor))
    channels = list(lamp.channels.values())
    for group, junction in zip(groups, junctions, strict=True):
        emitter = lamp.emitters[channels[group.channel].emitter]
        capacitance.append(group.count * emitter.junction_capacitance_j_per_k)
        wiring.link(junction, group.node, group.count / real_resistance_k_per_w(emitter))
    for sensor, body in zip(lamp.sensors.values(), bodies, strict=True):
        capacitance.append(sensor.capacitance_j_per_k)
        wiring.link(body, sensor.at, 1.0 / sensor.resistance_k_per_w)
        if sensor.to_ambient_k_per_w is not None:
            wiring.link(body, lamp.ambients[0], 1.0 / sensor.to_ambient_k_per_w)
    heated = [*junctions, *bodies, *([lamp.driver.heat_node] if lamp.driver.heat_node else [])]
    inject = np.zeros((len(names), len(heated)))
    for u, name in enumerate(heated):
        inject[wiring.place[name], u] = 1.0
    _check_balance(lamp, wiring)
    return Network(
        tuple(names), np.array(capacitance), wiring.conductance, wiring.to_ambient, inject
    )


def _check_balance(lamp: Lamp, wiring: _Wiring) -> None:
    """Raises InputError where rounding has swallowed the small conductances beside the large.

    Ambients of one temperature must give every node that temperature.
    """
    try:
        node = np.linalg.solve(wiring.conductance, wiring.to_ambient.sum(axis=1))
        lost = float(np.abs(node - 1.0).max())
    except np.linalg.LinAlgError:
        lost = math.inf
    if not lost <= LOST:
        raise InputError(
            f"{lamp.source or lamp.name}: links: found resistances too far apart to compute with,"
            " airflow and events included, due the largest at most about 1e9 times the smallest"
        )
