"""What would help the limiting junction: by how much for a percent, and what a change would do."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.plant.rest import Rest
from derate.study.operating import Operating

Array = NDArray[np.float64]

PERCENT = 0.01
LEAST_K = 1e-6
"""A percent that moves the node by less is not told [K]."""


@dataclass(frozen=True)
class Help:
    """What one percent of a quantity does to the limiting node.

    ``what``: in words, "resistance of link interface", "emissivity of surface fins"; ``key``: in
    the lamp file, empty where it is no single key; ``per_percent_k`` [K]: rise of the node per
    percent *more* of the quantity, so that a negative one is worth enlarging.
    """

    what: str
    key: str
    per_percent_k: float


@dataclass(frozen=True)
class WhatIf:
    """A changed lamp solved again at the same point.

    ``what``: in words; ``limiting_k`` [K]: change of the node that limits now (negative: cooler);
    ``light_lm`` [lm]: change of the light at this point; ``permitted_lm`` [lm]: change of the light
    that is permitted at this ambient. nan where the changed lamp runs away.
    """

    what: str
    changes: dict[str, object]
    limiting_k: float
    light_lm: float
    permitted_lm: float


def helps(lamp: Operating, rest: Rest, node: int) -> tuple[Help, ...]:
    """Every quantity that moves ``node``, the strongest first.

    With the residual F(T, p) = G T - G_ambient a - B q(T), a quantity p moves the node by
    -l^T dF/dp, where (dF/dT)^T l = e_node (adjoint): l [K/W] is what one more watt into each node
    would do to it, the heat that follows included. For a resistance R between two places, with
    the flow q through it,

        dT_node / d ln R = q (l_start - l_end)

    and each of several in series has its share of that, whatever else the network holds.
    """
    found = [*_links(lamp, rest, node), *_emitters(lamp, rest, node)]
    found = [one for one in found if abs(one.per_percent_k) >= LEAST_K]
    return tuple(sorted(found, key=lambda one: -abs(one.per_percent_k)))


def rise_k_per_w(lamp: Operating, rest: Rest, node: int) -> Array:
    """What a watt into each node does to ``node`` [K/W], the heat that follows it included."""
    network = lamp.resting.network
    jacobian = network.conductance_w_per_k - network.inject @ rest.slopes_w_per_k @ network.inject.T
    unit = np.zeros(len(lamp.names))
    unit[node] = 1.0
    return np.asarray(np.linalg.solve(jacobian.T, unit))


def _links(lamp: Operating, rest: Rest, node: int) -> Iterator[Help]:
    """The resistance of each link, or of its ladder as a whole."""
    rise = rise_k_per_w(lamp, rest, node)
    places = [*lamp.names, *lamp.lamp.ambients]
    at_c = np.concatenate((rest.node_c, rest.ambient_c))
    rise = np.concatenate((rise, np.zeros(len(rest.ambient_c))))
    for index, link in enumerate(lamp.lamp.links):
        i, j = (places.index(end) for end in link.between)
        ladder, flow = link.ladder, lamp.airflow if link.airflow else 1.0
        whole_k_per_w = ladder.total_k_per_w if ladder else link.resistance_k_per_w or np.inf
        through_w = (at_c[i] - at_c[j]) * flow / whole_k_per_w
        name = link.name or f"{link.between[0]} to {link.between[1]}"
        yield Help(
            f"resistance of link {name}",
            f"links.{link.name or index}.{'ladder.' if ladder else ''}resistance",
            PERCENT * float(through_w * (rise[i] - rise[j])),
        )


def _emitters(lamp: Operating, rest: Rest, node: int) -> Iterator[Help]:
    """The resistance from junction to solder of each kind of emitter."""
    plant, rise = lamp.resting, rise_k_per_w(lamp, rest, node)
    kinds = [channel.emitter for channel in lamp.lamp.channels.values()]
    for kind in dict.fromkeys(kinds):
        moved_k = 0.0
        for g, group in enumerate(plant.groups):
            if kinds[group.channel] == kind:
                solder = lamp.names.index(group.node)
                moved_k += rest.heat_w[g] * (rise[plant.first_junction + g] - rise[solder])
        yield Help(
            f"resistance from junction to solder of {kind}",
            f"emitters.{kind}.junction_to_solder_resistance",
            PERCENT * float(moved_k),
        )
