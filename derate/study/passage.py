"""The ways on which heat leaves one place of a lamp for another at rest.

A passage is all that lies between two places: the resistance of a link or its whole ladder, a
surface, the interface of the board, the board itself below an emitter. What passes through it is
what is put in at one end, since at rest nothing is stored on the way.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from derate.plant.chain import joint_k_per_w
from derate.plant.emitter import real_resistance_k_per_w
from derate.plant.network import STILL_AIR
from derate.plant.rest import Rest
from derate.study.operating import Operating

BELOW = "thermal pad of "
"""How the place between an emitter and its solder joint is called, before the junction's name."""


@dataclass(frozen=True)
class Passage:
    """``what`` lies between two places, and the heat [W] that flows from ``start`` to ``end``.

    ``drop_k`` [K]: how much warmer the start is.
    """

    start: str
    end: str
    what: str
    heat_w: float
    drop_k: float


def passages(lamp: Operating, rest: Rest) -> tuple[Passage, ...]:
    """Every passage but those of the sensors, the heat flowing from start to end."""
    found = [
        *of_emitters(lamp, rest),
        *of_links(lamp, rest),
        *of_surfaces(lamp, rest),
        *of_board(lamp, rest),
    ]
    return tuple(one if one.heat_w >= 0.0 else _turned(one) for one in found)


def _turned(one: Passage) -> Passage:
    return Passage(one.end, one.start, one.what, -one.heat_w, -one.drop_k)


def at_c(lamp: Operating, rest: Rest, place: str) -> float:
    """Temperature of a node or an ambient [degC]."""
    if place in lamp.lamp.ambients:
        return float(rest.ambient_c[lamp.lamp.ambients.index(place)])
    return float(rest.node_c[lamp.node(place)])


def of_emitters(lamp: Operating, rest: Rest) -> Iterator[Passage]:
    """From each group's junction to its solder point, by its joint if it has one."""
    assembly, channels = lamp.resting.assembly, list(lamp.lamp.channels.values())
    kinds = {
        name: (real_resistance_k_per_w(emitter), joint_k_per_w(lamp.lamp, emitter))
        for name, emitter in lamp.lamp.emitters.items()
    }
    for g, (group, junction) in enumerate(zip(assembly.groups, assembly.junctions, strict=True)):
        inside, joint = kinds[channels[group.channel].emitter]
        heat_w = float(rest.heat_w[g])
        pad = BELOW + junction if joint else group.node
        yield Passage(junction, pad, "junction to solder", heat_w, heat_w / group.count * inside)
        if joint:
            yield Passage(pad, group.node, "solder joint", heat_w, heat_w / group.count * joint)


def of_links(lamp: Operating, rest: Rest) -> Iterator[Passage]:
    """Every link in the order of the file, from the first of its ends to the second."""
    for link in lamp.lamp.links:
        start, end = link.between
        drop_k = at_c(lamp, rest, start) - at_c(lamp, rest, end)
        whole = link.ladder.total_k_per_w if link.ladder else link.resistance_k_per_w
        flow = max(lamp.airflow, STILL_AIR) if link.airflow else 1.0
        what = f"link {link.name or f'{start} to {end}'}"
        yield Passage(start, end, what, drop_k * flow / (whole or 1.0), drop_k)


def of_surfaces(lamp: Operating, rest: Rest) -> Iterator[Passage]:
    """Every surface in the order of the file, then the board's faces in air."""
    exchange = lamp.resting.assembly.exchange
    names = [f"surface {name}" for name in lamp.lamp.surfaces]
    names += [f"{side} of the board" for side in lamp.sides]
    for s, name in enumerate(names):
        start = lamp.names[exchange.node[s]]
        end = lamp.lamp.ambients[exchange.ambient[s]]
        drop_k = at_c(lamp, rest, start) - at_c(lamp, rest, end)
        yield Passage(start, end, name, shed_w(lamp, rest, s), drop_k)


def shed_w(lamp: Operating, rest: Rest, s: int) -> float:
    """Heat that surface ``s`` sheds [W]: what stands for it in the network, corrected."""
    plant, exchange = lamp.resting, lamp.resting.assembly.exchange
    reference = float(exchange.reference_w_per_k[s])
    ambient_c = float(rest.ambient_c[exchange.ambient[s]])
    carried_w = reference * (float(rest.node_c[exchange.node[s]]) - ambient_c)
    face = s - len(lamp.lamp.surfaces)
    if face >= 0:
        area_m2, matrix_m2 = lamp.face(lamp.sides[face])
        carried_w = reference / area_m2 * float((matrix_m2 @ (rest.node_c - ambient_c)).sum())
    return carried_w - float(rest.heat_w[plant.surface_inputs][s])


def of_board(lamp: Operating, rest: Rest) -> Iterator[Passage]:
    """From every solder point to the mean of the board, and on through the interface."""
    board = lamp.lamp.board
    if board is None:
        return
    groups = lamp.resting.assembly.groups
    for solder in dict.fromkeys(group.node for group in groups):
        same = [g for g, group in enumerate(groups) if lamp.node(group.node) == lamp.node(solder)]
        drop_k = at_c(lamp, rest, solder) - at_c(lamp, rest, "board")
        yield Passage(solder, "board", "board", float(rest.heat_w[same].sum()), drop_k)
    if board.interface is not None:
        partner_c = at_c(lamp, rest, board.interface.to)
        _, matrix_m2 = lamp.face("interface")
        through_w = float((matrix_m2 @ (rest.node_c - partner_c)).sum())
        resistance = lamp.lamp.area_resistance_m2_k_per_w(board.interface)
        laid = lamp.resting.assembly.board
        through_w /= resistance + (laid.base_m2_k_per_w if laid else 0.0)
        drop_k = at_c(lamp, rest, "board") - partner_c
        yield Passage("board", board.interface.to, board.interface.name, through_w, drop_k)
