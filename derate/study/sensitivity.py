"""By how much a percent of each quantity moves one node of a lamp at rest.

With the residual F(T, p) = G T - G_ambient a - B q(T), a quantity p moves the node by -l^T dF/dp,
where (dF/dT)^T l = e_node (adjoint): l [K/W] is what one more watt into each place would do to the
node, the heat that follows included; 0 for ambients. For a resistance R between two places, with
the flow Q through it,

    dT_node / d ln R = Q (l_start - l_end)

and each of several in series has its share of that, whatever else the network holds. For a quantity
that changes the heat Q of a surface it is -l_surface dQ / d ln p; for a conductivity of the board,
whose part of the conductances is K, it is -l^T K T.
"""

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.surface import Fan, Fins, Given
from derate.plant.chain import joint_k_per_w
from derate.plant.emitter import real_resistance_k_per_w
from derate.plant.heat import corrections_w
from derate.plant.rest import Rest
from derate.plant.surface.bodies import bodies_of
from derate.study.helps import Help
from derate.study.operating import Operating
from derate.study.passage import at_c, of_links, of_surfaces, shed_w

if TYPE_CHECKING:
    from derate.plant.board.lumped import LumpedBoard

Array = NDArray[np.float64]

PERCENT = 0.01
LEAST_K = 1e-6
"""A percent that moves the node by less is not told [K]."""
LAYERS = {"copper": "board.copper", "bottom copper": "board.bottom_copper", "core": "board.core"}
NUDGE = 0.01
"""Change of a surface's quantity whose effect on its heat is computed, up and down [-]."""


def helps(lamp: Operating, rest: Rest, node: int) -> tuple[Help, ...]:
    """Every quantity that moves ``node``, the strongest first."""
    adjoint = Adjoint(lamp, rest, node)
    found = [*_links(adjoint), *_emitters(adjoint), *_surfaces(adjoint), *_board(adjoint)]
    listed = [
        Help(what, key, PERCENT * float(moved_k))
        for what, key, moved_k in found
        if PERCENT * abs(moved_k) >= LEAST_K
    ]
    return tuple(sorted(listed, key=lambda one: -abs(one.per_percent_k)))


class Adjoint:
    """l of the module for one node: ``rise_k_per_w`` (N)."""

    def __init__(self, lamp: Operating, rest: Rest, node: int) -> None:
        self.lamp, self.rest = lamp, rest
        network = lamp.resting.network
        feedback = network.inject @ rest.slopes_w_per_k @ network.inject.T
        unit = np.zeros(len(lamp.names))
        unit[node] = 1.0
        self.rise_k_per_w = np.linalg.solve((network.conductance_w_per_k - feedback).T, unit)

    def at(self, place: str) -> float:
        """What a watt into a node or an ambient does [K/W]."""
        if place in self.lamp.lamp.ambients:
            return 0.0
        return float(self.rise_k_per_w[self.lamp.node(place)])


Found = Iterator[tuple[str, str, float]]
"""A quantity in words, its key, and the change of the node per change of its logarithm [K]."""


def _links(adjoint: Adjoint) -> Found:
    lamp = adjoint.lamp
    for index, (link, way) in enumerate(
        zip(lamp.lamp.links, of_links(lamp, adjoint.rest), strict=True)
    ):
        name = link.name or f"{way.start} to {way.end}"
        ladder = "ladder." if link.ladder else ""
        moved_k = way.heat_w * (adjoint.at(way.start) - adjoint.at(way.end))
        yield (
            f"resistance of link {name}",
            f"links.{link.name or index}.{ladder}resistance",
            moved_k,
        )


def _emitters(adjoint: Adjoint) -> Found:
    """Resistance from junction to solder, and of the joint, of each kind of emitter."""
    lamp, assembly = adjoint.lamp, adjoint.lamp.resting.assembly
    kinds = [channel.emitter for channel in lamp.lamp.channels.values()]
    for kind in dict.fromkeys(kinds):
        emitter, moved_k = lamp.lamp.emitters[kind], 0.0
        for g, (group, junction) in enumerate(
            zip(assembly.groups, assembly.junctions, strict=True)
        ):
            if kinds[group.channel] == kind:
                drop = adjoint.at(junction) - adjoint.at(group.node)
                moved_k += float(adjoint.rest.heat_w[g]) * drop
        inside, joint = real_resistance_k_per_w(emitter), joint_k_per_w(lamp.lamp, emitter)
        key = "ladder.resistance" if emitter.ladder else "junction_to_solder_resistance"
        what = f"resistance from junction to solder of {kind}"
        yield what, f"emitters.{kind}.{key}", moved_k * inside / (inside + joint)
        if joint:
            what = f"thickness of the solder joint of {kind}"
            key = f"emitters.{kind}.solder.thickness"
            yield what, key, moved_k * joint / (inside + joint)


def _surfaces(adjoint: Adjoint) -> Found:
    """Area of each surface, or its resistance; fins, flow; emissivity, of the board's faces too."""
    lamp = adjoint.lamp.lamp
    ways = list(of_surfaces(adjoint.lamp, adjoint.rest))
    for s, (name, part) in enumerate(lamp.surfaces.items()):
        key, shed_k = f"surfaces.{name}", adjoint.at(ways[s].start) * ways[s].heat_w
        if isinstance(part, Given):
            yield f"resistance of surface {name}", f"{key}.resistance", shed_k
            continue
        yield f"area of surface {name}", "", -shed_k
        if isinstance(part, Fins):
            yield from _fins(adjoint, s, name, part)
        if part.airflow_m_per_s is not None:
            faster = partial(_surface_with, lamp, name, "airflow_m_per_s", part.airflow_m_per_s)
            yield (
                f"speed of the flow along surface {name}",
                f"{key}.airflow",
                _nudged(adjoint, s, faster),
            )
        blacker = partial(_surface_with, lamp, name, "emissivity", lamp.emissivity_of(part))
        yield f"emissivity of surface {name}", f"{key}.emissivity", _nudged(adjoint, s, blacker)
    for s, side in enumerate(adjoint.lamp.sides, len(lamp.surfaces)):
        key = f"board.{side}.emissivity"
        yield f"emissivity of the {side} of the board", key, _blackened(adjoint, s)


def _fins(adjoint: Adjoint, s: int, name: str, part: Fins) -> Found:
    """What a bank of fins is made of, as far as that leaves gaps open, and its fan."""
    lamp, key = adjoint.lamp.lamp, f"surfaces.{name}"
    fields = {"fin height of": ("fin_height", "fin_height_m", part.fin_height_m)}
    if (1.0 + NUDGE) * part.fins * part.fin_thickness_m < part.size_m[1]:
        fields["fin thickness of"] = ("fin_thickness", "fin_thickness_m", part.fin_thickness_m)
        fields["fins on"] = ("fins", "fins", float(part.fins))
    for what, (last, field, value) in fields.items():
        changed = partial(_surface_with, lamp, name, field, value)
        yield f"{what} surface {name}", f"{key}.{last}", _nudged(adjoint, s, changed)
    if part.fan is not None:
        stronger = partial(_fan_with, lamp, name, part.fan)
        yield f"flow of the fan of surface {name}", f"{key}.fan.flow", _nudged(adjoint, s, stronger)


def _fan_with(lamp: Lamp, name: str, fan: Fan, factor: float) -> Lamp:
    stronger = fan.model_copy(update={"flow_m3_per_s": fan.flow_m3_per_s * factor})
    part = lamp.surfaces[name].model_copy(update={"fan": stronger})
    return lamp.model_copy(update={"surfaces": lamp.surfaces | {name: part}})


def _surface_with(lamp: Lamp, name: str, field: str, value: float, factor: float) -> Lamp:
    part = lamp.surfaces[name].model_copy(update={field: value * factor})
    return lamp.model_copy(update={"surfaces": lamp.surfaces | {name: part}})


def _nudged(adjoint: Adjoint, s: int, changed: Callable[[float], Lamp]) -> float:
    """What the logarithm of a quantity of surface ``s`` does to the node [K].

    ``changed``: the lamp with that quantity times a factor, whose heat at the temperatures of the
    rest is computed by the formulas behind the tables.
    """
    exchange, rest = adjoint.lamp.resting.assembly.exchange, adjoint.rest
    surface_c, ambient_c = rest.node_c[exchange.node[s]], rest.ambient_c[exchange.ambient[s]]
    airflow = np.asarray(adjoint.lamp.airflow)
    more_w, less_w = (
        float(bodies_of(changed(factor))[s].heat_w(surface_c, ambient_c, airflow))
        for factor in (1.0 + NUDGE, 1.0 - NUDGE)
    )
    return -float(adjoint.rise_k_per_w[exchange.node[s]]) * (more_w - less_w) / (2.0 * NUDGE)


def _blackened(adjoint: Adjoint, s: int) -> float:
    """What the logarithm of the emissivity of a face of the board does to the node [K].

    It radiates by its temperature at each place, so that each of its patterns counts.
    """
    plant, rest = adjoint.lamp.resting, adjoint.rest
    exchange = plant.assembly.exchange
    inject = plant.network.inject[:, plant.surface_inputs.start :]
    felt, black_m2 = inject.T @ rest.node_c, exchange.black_m2

    def heat_w(factor: float) -> Array:
        found = np.zeros(len(felt))
        one = np.where(np.arange(len(black_m2)) == s, factor, 1.0)
        nudged = exchange._replace(black_m2=black_m2 * one)
        corrections_w(nudged, s, felt, rest.ambient_c, adjoint.lamp.airflow, found)
        return found

    moved_w = (heat_w(1.0 + NUDGE) - heat_w(1.0 - NUDGE)) / (2.0 * NUDGE)
    return float(adjoint.rise_k_per_w @ inject @ moved_w)


def _board(adjoint: Adjoint) -> Found:
    """The layers of the board: along, more thickness conducts more, across less."""
    board = adjoint.lamp.resting.assembly.board
    if board is None:
        return
    nodes = [adjoint.lamp.node(name) for name in board.names]
    rise, node_c = adjoint.rise_k_per_w[nodes], adjoint.rest.node_c[nodes]
    moved_k = {
        name: -float(rise @ part @ node_c) for name, part in board.conduction_w_per_k.items()
    }
    along_k = {layer: moved_k.get(f"{layer} along", 0.0) for layer in LAYERS}
    across_k = {layer: moved_k.get(f"{layer} across", 0.0) for layer in LAYERS}
    vias_k = moved_k.get("vias", 0.0)
    yield "conductivity of the core", "", along_k["core"] + across_k["core"]
    across_k["core"] += vias_k
    along_k["core"] += _edge(adjoint)
    for layer, key in LAYERS.items():
        yield f"thickness of the {layer}", f"{key}.thickness", along_k[layer] - across_k[layer]
    yield "vias", "", vias_k
    yield (
        "thickness of the dielectric",
        "board.dielectric.thickness",
        -moved_k.get("dielectric", 0.0),
    )
    yield from _interface(adjoint, board)


def _edge(adjoint: Adjoint) -> float:
    """What the logarithm of the edge's area does to the node [K]."""
    lamp, rest, moved_k = adjoint.lamp, adjoint.rest, 0.0
    _, edge_m2 = lamp.face("edge")
    for s, side in enumerate(lamp.sides, len(lamp.lamp.surfaces)):
        outside_c = rest.ambient_c[lamp.resting.assembly.exchange.ambient[s]]
        above_k = rest.node_c - outside_c
        rise_m2_k = float((lamp.face(side)[1] @ above_k).sum())
        if rise_m2_k:
            each = shed_w(lamp, rest, s) / rise_m2_k
            moved_k -= each * float(adjoint.rise_k_per_w @ edge_m2 @ above_k) / len(lamp.sides)
    return moved_k


def _interface(adjoint: Adjoint, board: "LumpedBoard") -> Found:
    """The interface, whose heat flow differs from place to place."""
    lamp, rest = adjoint.lamp, adjoint.rest
    joint = lamp.lamp.board.interface if lamp.lamp.board else None
    if joint is None:
        return
    nodes, face = [lamp.node(name) for name in board.names], board.faces["interface"]
    partner_c, partner = at_c(lamp, rest, joint.to), adjoint.at(joint.to)
    above_k, above = rest.node_c[nodes] - partner_c, adjoint.rise_k_per_w[nodes] - partner
    resistance = lamp.lamp.area_resistance_m2_k_per_w(joint)
    key = "thickness" if joint.area_resistance_m2_k_per_w is None else "area_resistance"
    share = resistance / (resistance + board.base_m2_k_per_w)
    moved_k = share**2 * float(above @ face.matrix_m2 @ above_k) / resistance
    yield f"resistance of {joint.name}", f"board.interface.{key}", moved_k
