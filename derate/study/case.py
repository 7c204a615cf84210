"""A lamp in a profile as the possible sees it: the nodes that matter, and where they can be.

Every admissible history lies, node by node, between the lamp kept as dark as it may be and the
lamp driven as hard as it may be: heat put in anywhere cools no place (the network is passive, and a
surface sheds more the hotter it is). Both are simulated. Since no node ever passes its limit, the
bright one may start every part of a slot with all of them at or below it. To it comes what sensors
and bypass switches may add, their heat having had all the time there is. The nodes of a board's
reduced network may undershoot a little, and a warmer emitter draws a little less power:
``MARGIN_K`` is for them. The faces of a board shed by their mean temperatures: what it matters in
another wind than usual that they are not evenly warm is left out.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.plant.emission import HEAT, Emission
from derate.plant.plant import Plant
from derate.plant.state import BEGIN
from derate.sensing.chain import chains_of
from derate.study.glow import Channel, channels_of
from derate.study.horizon import Horizon, horizon_of

Array = NDArray[np.float64]

MARGIN_K: Final = 0.5
"""By how much a node may leave what the darkest and the brightest history span [K]."""
PARTS: Final = 4
"""Parts of a slot in a simulation: ambients along a line move from one to the next."""
HOTTEST_C: Final = 1000.0
"""No lamp is hotter [degC]."""
SENSOR_C: Final = (0.0, 50.0, 100.0, 150.0)
"""Where the heat of a measuring current is looked for: it is largest in between [degC]."""


@dataclass(frozen=True, eq=False)
class History:
    """A plan driven through the plant: S slots, N nodes, C channels.

    ``node_c`` (S + 1, N) at the edges; ``low_c``, ``high_c`` (S, N): least and largest in a slot,
    the crest of PWM included in the latter [degC]; ``light_lm_s`` (S, C).
    """

    node_c: Array
    low_c: Array
    high_c: Array
    light_lm_s: Array


@dataclass(frozen=True, eq=False)
class Case:
    """Y nodes that matter: junctions first, then others with a limit or a surface.

    ``node`` (Y): indices; ``limit_c`` (Y), inf where there is none; ``low_c``, ``high_c`` (S, Y):
    where they can be [degC]; ``dark``: the darkest history; ``sensor_w`` and ``switches_w``: most
    heat of each sensor and of the bypass switches [W]; ``counts`` (C): 1 for channels whose light
    is to be large, 0 for the others.
    """

    plant: Plant
    horizon: Horizon
    channels: tuple[Channel, ...]
    node: NDArray[np.int64]
    limit_c: Array
    low_c: Array
    high_c: Array
    dark: History
    sensor_w: Array
    switches_w: float
    counts: Array

    @property
    def groups(self) -> int:
        """Number of junction groups, the first of the nodes that matter."""
        return len(self.plant.machine.emission.group)


def case_of(lamp: Lamp, profile: Profile, parts: int, of: Collection[str] | None = None) -> Case:
    """The case of a lamp in a profile cut into at least so many parts.

    ``of``: the channels whose light counts, all by default.

    Raises InputError where the profile jumps too often.
    """
    plant = Plant(lamp, even=True)
    horizon = horizon_of(lamp, profile, plant, parts)
    plant.configure(float(horizon.airflow[0]), horizon.degraded[0])
    plant.reset(horizon.ambient_c[0, 0], profile.start_c)
    limits_c = np.where(np.isnan(plant.limits_c), np.inf, plant.limits_c)
    dark = simulated(plant, horizon, horizon.least)
    bright = simulated(plant, horizon, _largest(horizon), calm=True, held_c=limits_c)
    low_c = dark.low_c
    if np.any(horizon.calm < horizon.airflow):
        low_c = np.minimum(low_c, simulated(plant, horizon, horizon.least, calm=True).low_c)
    junctions = plant.first_junction + np.arange(len(plant.machine.emission.group))
    others = np.union1d(np.flatnonzero(np.isfinite(limits_c)), plant.machine.exchange.node)
    node = np.concatenate((junctions, np.setdiff1d(others, junctions))).astype(np.int64)
    heats = [[chain.self_heat_w(at_c) for at_c in SENSOR_C] for chain in chains_of(lamp)]
    sensor_w = 2.0 * np.array([max(heat) for heat in heats])
    channels = channels_of(plant.machine.emission)
    switches_w = _switches_w(channels, plant.machine.emission)
    more_k = MARGIN_K + _beside_k(plant, sensor_w, switches_w, profile.duration_s)[node]
    high_c = np.minimum(bright.high_c[:, node] + more_k, limits_c[node])
    return Case(
        plant=plant,
        horizon=horizon,
        channels=channels,
        node=node,
        limit_c=limits_c[node],
        low_c=np.minimum(low_c[:, node] - MARGIN_K, high_c),
        high_c=high_c,
        dark=dark,
        sensor_w=sensor_w,
        switches_w=switches_w,
        counts=np.array([float(of is None or name in of) for name in lamp.channels]),
    )


def _switches_w(channels: tuple[Channel, ...], emission: Emission) -> float:
    """Most heat of the bypass switches [W]."""
    each = (one.full_a**2 * emission.bypass_ohm + emission.switching_w for one in channels)
    return float(sum(each))


def _beside_k(plant: Plant, sensor_w: Array, switches_w: float, until_s: float) -> Array:
    """By how much all else but the emitters can warm each node [K]."""
    emission, nodes = plant.machine.emission, len(plant.node_names)
    groups, sensors = len(emission.group), len(sensor_w)
    most_k = np.zeros(nodes)
    for modes in plant.modes:
        heat_w = np.zeros(len(modes.felt))
        heat_w[groups : groups + sensors] = sensor_w
        if emission.bypass_input >= 0:
            heat_w[emission.bypass_input] = switches_w
        if emission.loss_input >= 0:
            heat_w[emission.loss_input] = switches_w * (emission.supply_per_load - 1.0)
        charge_s = -np.expm1(-modes.rate * until_s) / np.maximum(modes.rate, 1e-300)
        count = len(modes.rate)
        moved = charge_s * (heat_w @ modes.drive[: len(heat_w)])
        rise_k = moved @ modes.response[:count, :nodes]
        rise_k += heat_w @ modes.response[count : count + len(heat_w), :nodes]
        most_k = np.maximum(most_k, rise_k)
    return most_k


def _largest(horizon: Horizon) -> Array:
    """The largest duty of every channel in every slot."""
    most = horizon.least.copy()
    np.maximum.at(most, horizon.slot, horizon.ceiling)
    return most


def simulated(
    plant: Plant,
    horizon: Horizon,
    duties: Array,
    *,
    calm: bool = False,
    held_c: Array | None = None,
) -> History:
    """The plant driven from the start with the duties (S, C) of each slot.

    ``calm``: with the least airflow of every slot instead of the largest; ``held_c`` (N): where
    nodes are above these, they are put back to them after every part of a slot [degC].
    """
    slots, nodes = len(horizon.airflow), len(plant.node_names)
    airflow = horizon.calm if calm else horizon.airflow
    node_c = np.full((slots + 1, nodes), HOTTEST_C)
    low_c, high_c = np.full((2, slots, nodes), HOTTEST_C)
    light_lm_s = np.zeros((slots, duties.shape[1]))
    plant.configure(float(airflow[0]), horizon.degraded[0])
    plant.state, plant.tally = plant.beginning()
    node_c[0] = plant.node_c
    still = np.zeros(len(plant.sensor_nodes))
    part_s = horizon.length_s / PARTS
    for k in range(slots):
        plant.configure(float(airflow[k]), horizon.degraded[k])
        plant.tally.peak_c[:] = -np.inf
        plant.tally.light_lm_s[:] = 0.0
        low_c[k] = plant.node_c
        for part in range(PARTS):
            at_s = np.array(horizon.edge_s[k] + (part + 0.5) * part_s[k])
            ambient_c = horizon.ambients_c(np.array(k), at_s)
            plant.advance(float(part_s[k]), duties[k], duties[k], ambient_c, still)
            low_c[k] = np.minimum(low_c[k], plant.node_c)
            if held_c is not None:
                _put_back(plant, held_c)
        node_c[k + 1], high_c[k] = plant.node_c, plant.tally.peak_c
        light_lm_s[k] = plant.tally.light_lm_s
        if not plant.node_c.max() < HOTTEST_C:
            break
    return History(node_c, low_c, np.minimum(high_c, HOTTEST_C), light_lm_s)


def _put_back(plant: Plant, held_c: Array) -> None:
    """Take every node down to ``held_c`` [degC] where it is above."""
    state, modes = plant.state, plant.modes[plant.configuration]
    if np.any(state.node_c[BEGIN] > held_c):
        state.node_c[BEGIN] = np.minimum(state.node_c[BEGIN], held_c)
        state.cause[BEGIN, : len(modes.rate)] = modes.project @ state.node_c[BEGIN]
        state.lit.glow[HEAT, 0] = np.nan
