"""A lamp as a linear network, with bounds on all that is not linear in it.

    dz/dt = -rate z + drive^T [q, a],    T = response^T [z, q, a]

as in ``derate.plant.modes``. What is not linear is heat q that lies between bounds:

- An emitter gives between ``least_w`` and ``most_w`` for full duty, and in proportion to a share
  of duty: that of time under PWM, of heat in current dimming.
- A link that airflow cools stands in the network at the least airflow. What more of it carries away
  is heat between nothing and that of the largest airflow: never more than in proportion to how far
  the place is above its ambient.
- A surface stands in the network with the slope that it has where the lamp is at its limit. What it
  sheds is a convex function of its rise, so that the line through there lies below it: what the
  line carries too much is at most the constant found there.
- Sensors warm themselves by anything up to their most; bypass switches likewise.

All temperatures that the bounds are made for are above the ambient and below ``cap_c``; who uses
this has to show that nothing gets hotter. The faces of a board count as evenly warm.
"""

import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.limits.worst.heats import heats_of
from derate.limits.worst.span import Span
from derate.plant.emission import Emission, emission_of
from derate.plant.heat import correction_w
from derate.plant.kernel import direct
from derate.plant.modes import Modes, modes_of
from derate.plant.network import Assembly
from derate.plant.surface.exchange import Exchange
from derate.plant.swell import largest_crest
from derate.sensing.chain import chains_of

if TYPE_CHECKING:
    from derate.plant.board.lumped import LumpedBoard

Array = NDArray[np.float64]

SENSOR_C: Final = (-20.0, 0.0, 25.0, 50.0, 75.0, 100.0, 125.0, 150.0)
"""Where the heat of a measuring current is looked for."""
SPARE: Final = 2.0
"""Times as much is allowed for, as it is largest in between [-]."""
ROUNDS: Final = 3
"""In which the rise of surfaces is bounded."""
RISES: Final = 41
"""Rises at which a surface is looked at."""
AMBIENTS: Final = 5
"""Ambients at which a surface is looked at."""
PROBE_K: Final = 0.5
"""Half the difference that gives the slope of a surface [K]."""
SLOWEST: Final = 1e-12
"""A mode without a way out counts as this slow [1/s]."""


@dataclass(frozen=True, eq=False)
class Linear:
    """N nodes, C channels, U heat inputs, M ambients; ``modes`` as there.

    ``places``: index of every node by its names; ``limits_c`` (N) [degC], nan for none;
    ``junctions``: nodes of each channel; ``sensors``: nodes; ``most_w``, ``least_w`` (C, U) [W]:
    for full duty, of which ``duties`` (D) give the ``shares`` (D) at most; ``high_w``, ``low_w``
    (U): heat that may come without duty; ``high_per_k`` (U) [W/K]: what the former gains per kelvin
    of the ambient ``whose`` (U); ``taken_w_per_k`` (U): no more heat than so much, for each kelvin
    of its place above that ambient and ``apart_k``, is taken away, 0 where that is not known;
    ``rise_k`` (N): above the ambient under full light for ever, or what ``cap_c`` allows,
    ``open_k`` without that; ``crest_k`` (N): of PWM ripple above the mean at most; ``span``: the
    air it holds for; ``board``: as made.
    """

    modes: Modes
    places: dict[str, int]
    limits_c: Array
    junctions: dict[str, NDArray[np.int64]]
    sensors: NDArray[np.int64]
    most_w: Array
    least_w: Array
    duties: Array
    shares: Array
    high_w: Array
    low_w: Array
    high_per_k: Array
    whose: NDArray[np.int64]
    taken_w_per_k: Array
    apart_k: float
    rise_k: Array
    open_k: Array
    crest_k: Array
    cap_c: float
    span: Span
    board: "LumpedBoard | None"

    @property
    def nodes(self) -> int:
        """N."""
        return len(self.limits_c)

    @property
    def slowest_s(self) -> float:
        """The longest time constant [s]."""
        return float(1.0 / max(self.modes.rate.min(), SLOWEST))

    def steady(self, node: int) -> Array:
        """What each heat input and ambient for ever adds to a node (U + M) [K/W, -]."""
        modes, count = self.modes, len(self.modes.rate)
        settled = modes.response[:count, node] / np.maximum(modes.rate, SLOWEST)
        found: Array = modes.drive @ settled + modes.response[count:, node]
        return found


def linear_of(lamp: Lamp, span: Span, cap_c: float, board: "LumpedBoard | None" = None) -> Linear:
    """The linear lamp in the air of ``span``, for temperatures up to ``cap_c`` [degC].

    ``board``: the one in whose nodes that of this lamp is wanted, which then is quickly made.
    """
    assembly = Assembly(lamp, even=True, nominal=board)
    emission = emission_of(lamp, assembly.branches, assembly.groups)
    found = _linear(lamp, assembly, emission, span, cap_c)
    exchange = assembly.exchange
    if len(exchange.node):
        tilted = copy.copy(assembly)
        slope = _slopes(exchange, found)
        tilted.exchange = exchange._replace(reference_w_per_k=slope)
        found = _linear(lamp, tilted, emission, span, cap_c)
        first = len(assembly.heated)
        reach_k = np.full(len(exchange.node), cap_c - span.ambient_c[0])
        for _ in range(ROUNDS):  # the lower they are bounded, the closer they are known
            risen = _with_surfaces(exchange, slope, first, reach_k, found)
            reach_k = np.minimum(reach_k, risen.rise_k[exchange.node])
        found = risen
    return found


def _linear(lamp: Lamp, assembly: Assembly, emission: Emission, span: Span, cap_c: float) -> Linear:
    """The same with surfaces that shed just what stands in the network."""
    calm, windy = (assembly.network(airflow, {}) for airflow in span.airflow)
    enter, gains, ambient = _wind(
        windy.conductance_w_per_k - calm.conductance_w_per_k,
        windy.ambient_w_per_k - calm.ambient_w_per_k,
    )
    modes = modes_of(replace(calm, inject=np.hstack((calm.inject, enter))))
    inputs = len(modes.felt)
    heats = heats_of(emission, inputs, span.ambient_c[0], cap_c)
    high_w, low_w = heats.free_w.copy(), np.zeros(inputs)
    groups = len(emission.group)
    for s, chain in enumerate(chains_of(lamp)):
        high_w[groups + s] += SPARE * max(chain.self_heat_w(at_c) for at_c in SENSOR_C)
    junction = assembly.first_junction
    found = Linear(
        modes=modes,
        places=assembly.place,
        limits_c=assembly.limits_c,
        junctions=assembly.junction_nodes,
        sensors=junction + groups + np.arange(len(lamp.sensors)),
        most_w=heats.most_w,
        least_w=heats.least_w,
        duties=heats.duties,
        shares=heats.shares,
        high_w=high_w,
        low_w=low_w,
        high_per_k=np.zeros(inputs),
        whose=np.zeros(inputs, np.int64),
        taken_w_per_k=np.zeros(inputs),
        apart_k=_apart_k(lamp, span),
        rise_k=np.zeros(len(assembly.names)),
        open_k=np.zeros(len(assembly.names)),
        crest_k=_crests_k(lamp, modes, heats.most_w, junction, groups, len(assembly.names)),
        cap_c=cap_c,
        span=span,
        board=assembly.board,
    )
    found = _risen(found)
    within = bool(np.any(ambient < 0))  # links that may warm a node more than calm air does
    rise_k = np.full(found.nodes, cap_c - span.ambient_c[0]) if within else found.rise_k
    many, apart_k = calm.inject.shape[1], found.apart_k
    low_w[many:] = -gains * (np.maximum(enter, 0.0).T @ rise_k + apart_k)
    high_w[many:] = gains * (np.maximum(-enter, 0.0).T @ rise_k + apart_k)
    found.whose[many:] = np.maximum(ambient, 0)
    found.taken_w_per_k[many:] = np.where(ambient >= 0, gains, 0.0)
    found = replace(found, high_w=high_w, low_w=low_w)
    return _risen(found) if within else found


def _risen(found: Linear) -> Linear:
    """The same with what full light for ever, and all heat that may come besides, rises nodes."""
    inputs = len(found.high_w)
    ends_c = np.array(found.span.ambient_c)[:, None]
    hot_w = found.high_w + (found.high_per_k * ends_c).max(axis=0)
    full_w = found.most_w.sum(axis=0) + hot_w
    each = np.array([found.steady(node)[:inputs] for node in range(found.nodes)])
    open_k = np.maximum(each, 0.0) @ full_w + np.minimum(each, 0.0) @ np.minimum(found.low_w, 0.0)
    rise_k = np.clip(open_k, 0.0, found.cap_c - found.span.ambient_c[0])
    return replace(found, open_k=open_k, rise_k=rise_k)


def _apart_k(lamp: Lamp, span: Span) -> float:
    """How far ambients may be apart [K]: a node may be colder than another ambient than its own."""
    return span.ambient_c[1] - span.ambient_c[0] if len(lamp.ambients) > 1 else 0.0


def _wind(more_w_per_k: Array, to_ambient_w_per_k: Array) -> tuple[Array, Array, NDArray[np.int64]]:
    """Pieces of links that gain by the wind: where their heat enters (N, L), gains [W/K], and the
    ambient they lead to, -1 for another node."""
    enter: list[Array] = []
    gains: list[float] = []
    ambient: list[int] = []
    nodes = len(more_w_per_k)
    for i in range(nodes):
        for m in np.flatnonzero(to_ambient_w_per_k[i] > 0.0):
            enter.append(np.eye(nodes)[i])
            gains.append(float(to_ambient_w_per_k[i, m]))
            ambient.append(int(m))
        for j in range(i):
            if more_w_per_k[i, j] < 0.0:
                enter.append(np.eye(nodes)[i] - np.eye(nodes)[j])
                gains.append(float(-more_w_per_k[i, j]))
                ambient.append(-1)
    return (
        np.array(enter).reshape(-1, nodes).T,
        np.array(gains, float),
        np.array(ambient, np.int64),
    )


def _crests_k(
    lamp: Lamp, modes: Modes, most_w: Array, junction: int, groups: int, nodes: int
) -> Array:
    """The most that PWM ripple lifts each node above its mean [K]; only junctions ripple."""
    crest_k = np.zeros(nodes)
    if lamp.driver.dimming != "pwm":
        return crest_k
    period_s = 1.0 / lamp.driver.frequency_hz
    height_s = period_s * np.array([largest_crest(rate * period_s) for rate in modes.rate])
    own = slice(junction, junction + groups)
    moved = (np.abs(modes.drive[:groups]) * height_s) @ np.abs(
        modes.response[: len(modes.rate), own]
    )
    crest_k[own] = most_w[:, :groups].sum(axis=0) @ moved
    return crest_k


def _slopes(exchange: Exchange, bare: Linear) -> Array:
    """Slope of what each surface sheds where the hottest place is at its limit [W/K]."""
    hot_c, airflow = bare.span.ambient_c[1], bare.span.airflow[0]
    share = _share_at_limit(bare)
    at_once = direct(correction_w, exchange, 0, 0.0, 0.0, 0.0)
    found = []
    for s, node in enumerate(exchange.node):
        at_c = hot_c + max(share * float(bare.rise_k[node]), 2.0 * PROBE_K)
        more, less = (
            at_once(exchange, s, at_c + step, hot_c, airflow) for step in (PROBE_K, -PROBE_K)
        )
        found.append(exchange.reference_w_per_k[s] - (more - less) / (2.0 * PROBE_K))
    return np.array(found)


def _share_at_limit(bare: Linear) -> float:
    """The share of full light that brings the first place to its limit in the hottest ambient."""
    room_k = bare.limits_c - bare.span.ambient_c[1]
    limited = np.isfinite(room_k) & (bare.rise_k > 0.0)
    return float(np.clip(np.min(room_k[limited] / bare.rise_k[limited], initial=1.0), 0.05, 1.0))


def _with_surfaces(
    exchange: Exchange, slope: Array, first: int, reach_k: Array, bare: Linear
) -> Linear:
    """Bounds on what the lines in the network carry beyond what surfaces shed.

    ``reach_k``: rise of each surface at most.
    """
    calm, windy = bare.span.airflow
    ambients_c = np.unique(np.linspace(*bare.span.ambient_c, AMBIENTS))
    at_once = direct(correction_w, exchange, 0, 0.0, 0.0, 0.0)
    high_w, low_w = bare.high_w.copy(), bare.low_w.copy()
    per_k, whose = bare.high_per_k.copy(), bare.whose.copy()
    taken = bare.taken_w_per_k.copy()
    for s in range(len(exchange.node)):
        rises_k = np.linspace(-bare.apart_k, reach_k[s], RISES)
        beyond_w = (slope[s] - exchange.reference_w_per_k[s]) * rises_k
        carried = [
            np.array([
                [at_once(exchange, s, float(a + r), float(a), float(airflow)) for r in rises_k]
                for a in ambients_c
            ])
            for airflow in (calm, windy)
        ]  # fmt: skip
        too_much = carried[0] + beyond_w
        most_w = too_much.max(axis=1) + 0.25 * np.abs(np.diff(too_much, 2, axis=1)).max(axis=1)
        falls = (most_w[-1] - most_w[:-1]) / (ambients_c[-1] - ambients_c[:-1])
        per_k[first + s] = float(np.min(falls, initial=0.0))
        high_w[first + s] = float(most_w[-1]) - per_k[first + s] * ambients_c[-1]
        little = carried[1] + beyond_w
        low_w[first + s] = float(little.min())
        above_k = (rises_k + bare.apart_k)[1:]
        taken[first + s] = float((-little[:, 1:] / above_k).max())
        if bare.apart_k > 0.0:
            taken[first + s] = max(taken[first + s], 0.0)
        whose[first + s] = exchange.ambient[s]
    return _risen(replace(bare, high_w=high_w, low_w=low_w, high_per_k=per_k, whose=whose,
                          taken_w_per_k=taken))  # fmt: skip
