"""The lamp as a network of heat capacities, conductances and ambients.

    C dT/dt = -G T + G_ambient a + inject q

with T the node temperatures [degC], a those of the ambients [degC] and q the heat inputs [W].

Nodes, in this order: those of the lamp file; those of the board; one junction for each group of
emitters that behave alike (n emitters: every resistance on the way to the solder node R/n, every
capacity n C); one for each sensor's body; the inner nodes of ladders; one for the element of each
cut-out that lags behind its place.

Heat inputs, in this order: one for each junction group; one for each sensor (its measuring
current); the driver's loss and the loss of the bypass switches, if the lamp says where they go; one
for each surface and each face of the board in air, whose heat enters the board's nodes by their
weights; one for each pattern of such a face. A surface stands in G with its reference conductance;
its heat inputs are what that conductance carries and the surface does not.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.lamp.network import Link
from derate.plant.chain import emitter_stages, stages_of
from derate.plant.channel import branches_of, groups_of, junction_names
from derate.plant.surface.exchange import exchange_of
from derate.plant.wiring import Stage, Wiring

if TYPE_CHECKING:
    from derate.plant.board.faces import Face
    from derate.plant.board.lumped import LumpedBoard

Array = NDArray[np.float64]

LOST = 1e-4
"""Largest share of a temperature difference that rounding may take from a node."""
ELEMENT_J_PER_K = 1e-5
"""Heat capacity of a cut-out's element: so little that its place does not feel it."""
STILL_AIR = 1e-9
"""Least airflow factor [-]: a massless node that only airflow reaches keeps a temperature."""


@dataclass(frozen=True)
class Network:
    """N nodes, M ambients, U heat inputs.

    ``capacitance_j_per_k`` (N x N), symmetric, with rows of zeros for massless nodes;
    ``conductance_w_per_k`` (N x N), symmetric, the ambients' conductances on its diagonal;
    ``ambient_w_per_k`` (N x M); ``inject`` (N x U), the share of each heat input that enters each
    node; ``same``: further name of a node -> its name in ``names``.
    """

    names: tuple[str, ...]
    capacitance_j_per_k: Array
    conductance_w_per_k: Array
    ambient_w_per_k: Array
    inject: Array
    same: Mapping[str, str] = field(default_factory=dict)

    def index(self, name: str) -> int:
        """Index of a node by any of its names; ValueError where there is none."""
        return self.names.index(self.same.get(name, name))

    @property
    def heavy(self) -> NDArray[np.bool_]:
        """Which nodes have capacity (N)."""
        return np.asarray(np.diag(self.capacitance_j_per_k) > 0)


def assemble(
    lamp: Lamp, *, airflow: float = 1.0, degraded: Mapping[str, float] | None = None
) -> Network:
    """The network of ``lamp``.

    ``airflow``: factor [-] on the conductance of every link that the lamp file marks with airflow;
    ``degraded``: name of a link, of the board's interface or of a sensor's body -> factor [-] on
    its resistance, or on that between body and place.
    """
    return Assembly(lamp).network(airflow, degraded or {})


def body_of(sensor: str) -> str:
    """The node of a sensor's body; also what an event calls the joint between it and its place."""
    return f"sensor.{sensor}"


def element_of(lamp: Lamp, cutout: str) -> str:
    """The node that opens a cut-out: its element, or its place where that has no lag."""
    return f"cutout.{cutout}" if lamp.cutouts[cutout].lag_s else lamp.cutout_node(cutout)


def _board_of(lamp: Lamp, at_rest: bool, nominal: "LumpedBoard | None") -> "LumpedBoard | None":
    if lamp.board is None:
        return None
    if nominal is not None:
        from derate.plant.board.unit import board_like

        return board_like(nominal, lamp)
    from derate.plant.board.lumped import lumped_board

    return lumped_board(lamp, at_rest=at_rest)


class Assembly:
    """A lamp made ready to be assembled for one airflow and state of its links after another.

    ``groups`` and ``junctions``: groups of emitters and the names of their junction nodes;
    ``bodies``: the sensors' nodes; ``names``: all nodes; ``place``: index of a node by each of its
    names, since two emitters on one spot of the board share a node; ``exchange``: what surfaces
    shed. ``at_rest``: only the steady state will be asked for, so that a board is quickly made;
    ``even``: its faces shed by their mean temperatures alone; ``nominal``: the board in whose nodes
    that of this lamp is wanted.
    """

    def __init__(
        self,
        lamp: Lamp,
        *,
        at_rest: bool = False,
        even: bool = False,
        nominal: "LumpedBoard | None" = None,
    ) -> None:
        self.lamp, self._even = lamp, even
        self.branches = branches_of(lamp)
        self.groups = groups_of(self.branches)
        self.junctions = junction_names(lamp, self.groups)
        self.bodies = [body_of(name) for name in lamp.sensors]
        self.board = _board_of(lamp, at_rest, nominal)
        channels = list(lamp.channels.values())
        kinds = {name: emitter_stages(lamp, name) for name in lamp.emitters}
        self._stages = [kinds[channels[group.channel].emitter] for group in self.groups]
        self._ladders = [_link_stages(link) for link in lamp.links]
        self._inside = [_inner(j, s) for j, s in zip(self.junctions, self._stages, strict=True)]
        self._between = [
            _inner(f"link.{link.name or number}", stages)
            for number, (link, stages) in enumerate(zip(lamp.links, self._ladders, strict=True))
        ]
        inner = [name for names in (*self._inside, *self._between) for name in names]
        inner += [element_of(lamp, name) for name, one in lamp.cutouts.items() if one.lag_s]
        board = self.board.names if self.board else ()
        self.names = (*lamp.nodes, *board, *self.junctions, *self.bodies, *inner)
        self.place = {name: i for i, name in enumerate(self.names)}
        if self.board is not None:
            self.place |= {other: self.place[name] for other, name in self.board.same.items()}
        self.exchange = exchange_of(lamp, self.place, [face.uneven for face in self._in_air])

    @property
    def first_junction(self) -> int:
        """Index of the first junction node."""
        return self.place[self.junctions[0]]

    @property
    def junction_nodes(self) -> dict[str, NDArray[np.int64]]:
        """Channel -> indices of its junction nodes."""
        channel = np.array([group.channel for group in self.groups])
        return {
            name: self.first_junction + np.flatnonzero(channel == number)
            for number, name in enumerate(self.lamp.channels)
        }

    @property
    def limits_c(self) -> Array:
        """Limit of every node [degC], nan where there is none."""
        found = np.full(len(self.names), np.nan)
        for limited in limited_places(self.lamp):
            for node in limited.nodes:
                found[self.place[node]] = np.fmin(found[self.place[node]], limited.limit_c)
        for name, nodes in self.junction_nodes.items():
            found[nodes] = self.lamp.channels[name].junction_limit_c
        return found

    @property
    def heated(self) -> list[str]:
        """The node that each heat input but the surfaces' enters."""
        driver = self.lamp.driver
        losses = (driver.heat_node, driver.bypass.node if driver.bypass else None)
        return [
            *self.junctions,
            *self.bodies,
            *(node for node in losses if node is not None),
        ]

    @property
    def _in_air(self) -> list["Face"]:
        """The board's faces that shed heat to an ambient, in the order of their surfaces."""
        sides = self.lamp.board.faces if self.lamp.board else {}
        if self.board is None:
            return []
        faces = [self.board.faces[side] for side in sides]
        return [replace(face, uneven=face.uneven.none) if self._even else face for face in faces]

    def network(self, airflow: float, degraded: Mapping[str, float]) -> Network:
        """The network at an airflow [-] and with some links' resistances times a factor [-]."""
        wiring = Wiring(self.place, self.lamp.ambients)
        for name in self.lamp.nodes:
            wiring.store(name, self.lamp.capacitance_j_per_k(name))
        self._lay_links(wiring, airflow, degraded)
        self._lay_emitters(wiring)
        self._lay_sensors(wiring, degraded)
        self._lay_cutouts(wiring)
        self._lay_surfaces(wiring)
        self._lay_board(wiring, degraded)
        _check_balance(self.lamp, wiring)
        return Network(
            self.names,
            wiring.capacitance,
            wiring.conductance,
            wiring.to_ambient,
            self._inject(),
            self.board.same if self.board else {},
        )

    def _inject(self) -> Array:
        """The share of each heat input in each node."""
        entered = [self.place[name] for name in self.heated]
        entered += self.exchange.node[: len(self.lamp.surfaces)].tolist()
        single = np.eye(len(self.names))[:, entered]
        over = [face.weight_m2 / face.area_m2 for face in self._in_air]
        over += [pattern for face in self._in_air for pattern in face.uneven.patterns]
        spread = np.zeros((len(self.names), len(over)))
        if self.board is not None and over:
            spread[[self.place[name] for name in self.board.names]] = np.transpose(over)
        return np.hstack((single, spread))

    def _lay_links(self, wiring: Wiring, airflow: float, degraded: Mapping[str, float]) -> None:
        for link, stages, between in zip(
            self.lamp.links, self._ladders, self._between, strict=True
        ):
            factor = degraded.get(link.name, 1.0) if link.name else 1.0
            flow = max(airflow, STILL_AIR) if link.airflow else 1.0
            wiring.chain((link.between[0], *between, link.between[1]), stages, flow / factor)

    def _lay_emitters(self, wiring: Wiring) -> None:
        for group, junction, stages, inside in zip(
            self.groups, self.junctions, self._stages, self._inside, strict=True
        ):
            many = [(r / group.count, c * group.count) for r, c in stages]
            wiring.chain((junction, *inside, group.node), many)

    def _lay_sensors(self, wiring: Wiring, degraded: Mapping[str, float]) -> None:
        for (name, sensor), body in zip(self.lamp.sensors.items(), self.bodies, strict=True):
            wiring.store(body, sensor.capacitance_j_per_k)
            resistance = sensor.resistance_k_per_w * degraded.get(body, 1.0)
            wiring.link(body, self.lamp.sensor_node(name), 1.0 / resistance)
            if sensor.to_ambient_k_per_w is not None:
                wiring.link(body, self.lamp.ambients[0], 1.0 / sensor.to_ambient_k_per_w)

    def _lay_cutouts(self, wiring: Wiring) -> None:
        for name, cutout in self.lamp.cutouts.items():
            if cutout.lag_s:
                element = element_of(self.lamp, name)
                wiring.store(element, ELEMENT_J_PER_K)
                wiring.link(element, self.lamp.cutout_node(name), ELEMENT_J_PER_K / cutout.lag_s)

    def _lay_surfaces(self, wiring: Wiring) -> None:
        for s, surface in enumerate(self.lamp.surfaces.values()):
            reference = float(self.exchange.reference_w_per_k[s])
            wiring.link(surface.of, self.lamp.outside(surface.to), reference)

    def _lay_board(self, wiring: Wiring, degraded: Mapping[str, float]) -> None:
        described, board = self.lamp.board, self.board
        if described is None or board is None:
            return
        names, conduction = board.names, np.sum(list(board.conduction_w_per_k.values()), axis=0)
        wiring.spread(names, board.capacitance_j_per_k, conduction)
        for s, (face, part) in enumerate(
            zip(described.faces.values(), self._in_air, strict=True), len(self.lamp.surfaces)
        ):
            each = float(self.exchange.reference_w_per_k[s]) / part.area_m2
            ambient = self.lamp.outside(face.ambient)
            wiring.face(names, ambient, each * part.matrix_m2, each * part.weight_m2)
        if described.interface is not None:
            part, interface = board.faces["interface"], described.interface
            factor = degraded.get(interface.name, 1.0)
            resistance = self.lamp.area_resistance_m2_k_per_w(interface)
            each = 1.0 / (resistance * factor + board.base_m2_k_per_w)
            wiring.face(names, interface.to, each * part.matrix_m2, each * part.weight_m2)


def _inner(name: str, stages: list[Stage]) -> list[str]:
    """Names of the nodes between the stages of a ladder."""
    return [f"{name}.{k}" for k in range(1, len(stages))]


def _link_stages(link: Link) -> list[Stage]:
    """A link's ladder, or its bare resistance as one stage; the file gives the one or the other."""
    if link.ladder is not None:
        return stages_of(link.ladder)
    return [(link.resistance_k_per_w or 0.0, 0.0)]


def _check_balance(lamp: Lamp, wiring: Wiring) -> None:
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
