"""The lamp at rest: the temperatures at which it stays under constant duties and ambients.

    0 = -G T + G_ambient a + B q(T)

Symbols as in ``derate.plant.network``. Of several rests it is the least, which a lamp that warms
up from cold comes to. A lamp without a rest runs away: that is a result, not an error.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.channel import Branch, Group, branches_of, groups_of
from derate.plant.emission import (
    CURRENT,
    DRIVEN,
    ELECTRICAL_W,
    FULL_A,
    LIGHT_LM,
    dark,
    emission_of,
)
from derate.plant.network import Network, assemble
from derate.plant.steady import Standing, settle

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Rest:
    """Where a lamp stays, N nodes, U heat inputs, C channels; all nan when it runs away.

    ``node_c`` (N) [degC]; ``heat_w`` (U) [W]; ``slopes_w_per_k`` (U, U): by how much each heat
    input grows with the temperature of each heated node; ``light_lm`` (C); ``electrical_w`` (C)
    taken by the emitters, ``supply_w`` (C) drawn from the supply for them; ``ambient_w`` (M): heat
    that flows into each ambient; ``branch_a`` (kinds of branches): current of one while it is on.
    ``loop_gain`` [-]: the share of a warming that comes back through the heat it adds, the largest
    real part among the eigenvalues of transfer times slopes; from 1 on there is no staying.
    """

    duties: Array
    ambient_c: Array
    runaway: bool
    node_c: Array
    heat_w: Array
    slopes_w_per_k: Array
    light_lm: Array
    electrical_w: Array
    supply_w: Array
    ambient_w: Array
    branch_a: Array
    loop_gain: float


@dataclass(frozen=True, eq=False)
class Resting:
    """A lamp made ready to be asked for its rests.

    ``network`` as assembled; ``reach`` (N, U + M): what a watt in each heat input [K/W] and a
    degree in each ambient does to each node; ``junctions``: channel -> indices of its junction
    nodes; ``sensor_nodes``: index of each sensor's body; ``limits_c`` (N), nan where there is none.
    """

    lamp: Lamp
    network: Network
    branches: tuple[Branch, ...]
    groups: tuple[Group, ...]
    junctions: dict[str, NDArray[np.int64]]
    sensor_nodes: NDArray[np.int64]
    limits_c: Array
    reach: Array
    standing: Standing

    def rest(self, duties: Array, ambient_c: Array, *, sensor_heat_w: Array | None = None) -> Rest:
        """The rest at ``duties`` (C) [0..1] and ``ambient_c`` (M) [degC].

        ``sensor_heat_w`` [W]: of each sensor's measuring current, none by default.
        """
        inputs, channels = self.network.inject.shape[1], len(self.lamp.channels)
        duties, ambient_c = np.asarray(duties, float), np.asarray(ambient_c, float)
        if sensor_heat_w is None:
            sensor_heat_w = np.zeros(len(self.lamp.sensors))
        x = np.full(inputs, ambient_c.min())
        heat_w, slopes = np.zeros(inputs), np.zeros((inputs, inputs))
        output = np.zeros((3, channels))
        lit = dark(self.standing.emission)
        rested = settle(
            self.standing, lit, duties, sensor_heat_w, ambient_c, x, heat_w, output, slopes
        )
        gain = _gain(self.standing.transfer @ slopes) if rested else np.nan
        if not gain < 1.0:
            return _running_away(self, duties, ambient_c, gain)
        node_c = self.reach @ np.concatenate((heat_w, ambient_c))
        return Rest(
            duties,
            ambient_c,
            False,
            node_c,
            heat_w,
            slopes,
            output[LIGHT_LM],
            output[ELECTRICAL_W] / self.standing.emission.supply_per_load,
            output[ELECTRICAL_W],
            self._into_ambients_w(node_c, ambient_c),
            lit.branch[DRIVEN, :, CURRENT].copy(),
            gain,
        )

    def _into_ambients_w(self, node_c: Array, ambient_c: Array) -> Array:
        links = self.network.ambient_w_per_k
        return links.T @ node_c - links.sum(axis=0) * ambient_c

    @property
    def first_junction(self) -> int:
        """Index of the first group's junction node; the others follow in order."""
        return int(self.sensor_nodes[0]) - len(self.groups)

    def driven(self, factor: float) -> "Resting":
        """The same lamp with all full currents times ``factor`` [-]."""
        emission = self.standing.emission
        channel = emission.channel.copy()
        channel[:, FULL_A] *= factor
        emission = emission._replace(channel=channel)
        return replace(self, standing=self.standing._replace(emission=emission))


def resting(
    lamp: Lamp, *, airflow: float = 1.0, degraded: Mapping[str, float] | None = None
) -> Resting:
    """``lamp`` made ready; ``airflow`` [-] and ``degraded`` as in ``derate.plant.network``."""
    network = assemble(lamp, airflow=airflow, degraded=dict(degraded or {}))
    branches = branches_of(lamp)
    groups = groups_of(branches)
    inputs = network.inject.shape[1]
    causes = np.hstack((network.inject, network.ambient_w_per_k))
    reach = np.linalg.solve(network.conductance_w_per_k, causes)
    heated = network.inject.T @ reach
    standing = Standing(
        emission_of(lamp, branches, groups),
        np.ascontiguousarray(heated[:, :inputs]),
        np.ascontiguousarray(heated[:, inputs:]),
        len(groups),
    )
    first = int(np.argmax(network.inject[:, 0]))
    junctions = {
        name: first + np.array([g for g, group in enumerate(groups) if group.channel == i])
        for i, name in enumerate(lamp.channels)
    }
    return Resting(
        lamp,
        network,
        tuple(branches),
        tuple(groups),
        junctions,
        first + len(groups) + np.arange(len(lamp.sensors)),
        _limits_c(lamp, network, junctions),
        reach,
        standing,
    )


def _limits_c(lamp: Lamp, network: Network, junctions: Mapping[str, NDArray[np.int64]]) -> Array:
    limits_c = np.full(len(network.names), np.nan)
    for i, name in enumerate(network.names):
        if name in lamp.nodes and lamp.nodes[name].limit_c is not None:
            limits_c[i] = lamp.nodes[name].limit_c
    for name, channel in lamp.channels.items():
        limits_c[junctions[name]] = channel.junction_limit_c
    return limits_c


def _gain(loop: Array) -> float:
    return float(np.linalg.eigvals(loop).real.max())


def _running_away(resting: Resting, duties: Array, ambient_c: Array, gain: float) -> Rest:
    nodes, inputs = resting.network.inject.shape
    nothing = np.full(len(duties), np.nan)
    return Rest(
        duties,
        ambient_c,
        True,
        np.full(nodes, np.nan),
        np.full(inputs, np.nan),
        np.full((inputs, inputs), np.nan),
        nothing,
        nothing,
        nothing,
        np.full(len(ambient_c), np.nan),
        np.full(len(resting.branches), np.nan),
        gain,
    )
