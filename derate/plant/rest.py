"""The lamp at rest: the temperatures at which it stays under constant duties and ambients.

    0 = -G T + G_ambient a + B q(T)

Symbols as in ``derate.plant.network``. Of several rests it is the least, which a lamp that warms
up from cold comes to. A lamp without one below 1000 degC runs away, or is merely far too hot where
its heat does not feed itself: a result, not an error.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.emission import (
    CURRENT,
    DRIVEN,
    ELECTRICAL_W,
    FULL_A,
    LIGHT_LM,
    Lit,
    bypass_w,
    dark,
    emission_of,
)
from derate.plant.kernel import direct
from derate.plant.modes import Modes, modes_of
from derate.plant.network import Assembly, Network
from derate.plant.steady import (
    DOUBTFUL,
    NO_REST,
    TOO_HOT,
    Acting,
    Found,
    Standing,
    crests_k,
    settle,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Rest:
    """Where a lamp stays: N nodes, U heat inputs, C channels, M ambients; nan when it runs away.

    ``runaway``: no rest below 1000 degC; ``too_hot``: that one is above it, without a runaway.
    ``node_c`` (N) [degC] is the mean over a PWM period, ``peak_c`` (N) has the crest of the ripple
    of junctions on top. ``heat_w`` (U) [W]; ``slopes_w_per_k`` (U, U): by how much each heat input
    grows with the temperature of each heated place. Per channel ``light_lm``, ``electrical_w`` of
    the emitters, ``bypass_w`` of its switch and ``supply_w``, which serves both and the driver's
    loss. ``ambient_w`` (M): heat that leaves into each ambient; ``branch_a`` (kinds of branches):
    current of one while it is on.
    """

    duties: Array
    ambient_c: Array
    runaway: bool
    node_c: Array
    peak_c: Array
    heat_w: Array
    slopes_w_per_k: Array
    light_lm: Array
    electrical_w: Array
    bypass_w: Array
    supply_w: Array
    ambient_w: Array
    branch_a: Array
    too_hot: bool = False


@dataclass(frozen=True, eq=False)
class Resting:
    """A lamp made ready to be asked for its rests.

    ``reach`` (N, U + M): what a watt in each heat input [K/W] and a degree in each ambient does to
    each node; ``junctions``: channel -> indices of its junction nodes; ``sensor_nodes``: index of
    each sensor's body; ``limits_c`` (N), nan where there is none; ``period_s``: of the PWM, 0 where
    the current is dimmed.
    """

    lamp: Lamp
    assembly: Assembly
    network: Network
    junctions: dict[str, NDArray[np.int64]]
    sensor_nodes: NDArray[np.int64]
    limits_c: Array
    reach: Array
    standing: Standing
    period_s: float
    settle: Callable[[Standing, Lit, Acting, Found], int]

    def rest(self, duties: Array, ambient_c: Array, *, sensor_heat_w: Array | None = None) -> Rest:
        """The rest at ``duties`` (C) [0..1] and ``ambient_c`` (M) [degC].

        ``sensor_heat_w`` [W]: of each sensor's measuring current, none by default.
        """
        channels = len(self.lamp.channels)
        if sensor_heat_w is None:
            sensor_heat_w = np.zeros(len(self.lamp.sensors))
        acting = Acting(*(np.array(part, float) for part in (duties, sensor_heat_w, ambient_c)))
        found = _unfound(self.network, channels)
        found.x[:] = acting.ambient_c.min()
        lit = dark(self.standing.emission)
        ended = self.settle(self.standing, lit, acting, found)
        doubtful = ended == DOUBTFUL and not self.loop_gain(found.slopes) < 1.0
        if doubtful or ended in (NO_REST, TOO_HOT):
            return self._running_away(acting, too_hot=ended == TOO_HOT)
        node_c = self.reach @ np.concatenate((found.heat_w, acting.ambient_c))
        supply_w = found.output[ELECTRICAL_W]
        bypassed_w = self._bypass_w(acting.duties)
        return Rest(
            duties=acting.duties,
            ambient_c=acting.ambient_c,
            runaway=False,
            node_c=node_c,
            peak_c=node_c + self._ripple_k(acting.duties, found.heat_w),
            heat_w=found.heat_w,
            slopes_w_per_k=found.slopes,
            light_lm=found.output[LIGHT_LM],
            electrical_w=supply_w / self.standing.emission.supply_per_load - bypassed_w,
            bypass_w=bypassed_w,
            supply_w=supply_w,
            ambient_w=self._into_ambients_w(node_c, acting.ambient_c, found.heat_w),
            branch_a=lit.branch[DRIVEN, :, CURRENT].copy(),
        )

    @cached_property
    def modes(self) -> Modes:
        """The network's modes, from which the ripple is made."""
        return modes_of(self.network)

    @property
    def first_junction(self) -> int:
        """Index of the first group's junction node; the others follow in order."""
        return self.assembly.first_junction

    @property
    def surface_inputs(self) -> slice:
        """The heat inputs of surfaces, one each; those of their patterns come after them."""
        first = len(self.assembly.heated)
        return slice(first, first + len(self.assembly.exchange.node))

    def driven(self, factor: float) -> "Resting":
        """The same lamp with all full currents times ``factor`` [-]."""
        emission = self.standing.emission
        channel = emission.channel.copy()
        channel[:, FULL_A] *= factor
        emission = emission._replace(channel=channel)
        return replace(self, standing=self.standing._replace(emission=emission))

    def loop_gain(self, slopes_w_per_k: Array) -> float:
        """The share of a warming that comes back through the heat it adds [-].

        The largest real part among the eigenvalues of transfer times slopes; from 1 on there is no
        staying. Only emitters and losses count as the loop, and what surfaces shed as transfer.
        """
        junctions, first = len(self.assembly.groups), len(self.assembly.heated)
        surfaces = slice(first, len(slopes_w_per_k))
        shed = np.eye(len(slopes_w_per_k))
        shed[:, surfaces] -= (
            self.standing.transfer[:, surfaces] @ slopes_w_per_k[surfaces, surfaces]
        )
        driving = slopes_w_per_k[:, :junctions].copy()
        driving[surfaces] = 0.0
        loop = np.linalg.solve(shed, self.standing.transfer @ driving)[:junctions]
        return float(np.linalg.eigvals(loop).real.max())

    def _bypass_w(self, duties: Array) -> Array:
        emission = self.standing.emission
        if self.lamp.driver.bypass is None or not duties.any():
            return np.zeros(len(duties))
        return np.array([bypass_w(emission, c, duty) for c, duty in enumerate(duties)])

    def _ripple_k(self, duties: Array, heat_w: Array) -> Array:
        """Crest of every junction above its mean [K], as the plant takes it; 0 for other nodes."""
        found = np.zeros(len(self.network.names))
        groups = self.assembly.groups
        duty = duties[[group.channel for group in groups]]
        if self.period_s and np.any((duty > 0.0) & (duty < 1.0)):
            count, first, end = len(self.modes.rate), self.first_junction, len(groups)
            found[first : first + end] = crests_k(
                self.modes.rate,
                self.modes.drive[:end],
                np.ascontiguousarray(self.modes.response[:count, first : first + end]),
                self.period_s,
                duty,
                heat_w[:end],
            )
        return found

    def _into_ambients_w(self, node_c: Array, ambient_c: Array, heat_w: Array) -> Array:
        """What links to ambients carry, and surfaces instead of their reference conductances."""
        links = self.network.ambient_w_per_k
        found = links.T @ node_c - links.sum(axis=0) * ambient_c
        np.subtract.at(found, self.assembly.exchange.ambient, heat_w[self.surface_inputs])
        return np.asarray(found)

    def _running_away(self, acting: Acting, *, too_hot: bool) -> Rest:
        nodes, inputs = self.network.inject.shape
        channels = np.full(len(acting.duties), np.nan)
        return Rest(
            duties=acting.duties,
            ambient_c=acting.ambient_c,
            runaway=True,
            node_c=np.full(nodes, np.nan),
            peak_c=np.full(nodes, np.nan),
            heat_w=np.full(inputs, np.nan),
            slopes_w_per_k=np.full((inputs, inputs), np.nan),
            light_lm=channels,
            electrical_w=channels,
            bypass_w=channels,
            supply_w=channels,
            ambient_w=np.full(len(acting.ambient_c), np.nan),
            branch_a=np.full(len(self.assembly.branches), np.nan),
            too_hot=too_hot,
        )


def resting(
    lamp: Lamp,
    *,
    airflow: float = 1.0,
    degraded: Mapping[str, float] | None = None,
    at_rest: bool = False,
) -> Resting:
    """``lamp`` made ready; ``airflow`` [-] and ``degraded`` as in ``derate.plant.network``.

    ``at_rest``: its board is made for the rest alone; the ripple then may err by part of itself.
    """
    assembly = Assembly(lamp, at_rest=at_rest)
    network = assembly.network(airflow, degraded or {})
    groups, inputs = assembly.groups, network.inject.shape[1]
    causes = np.hstack((network.inject, network.ambient_w_per_k))
    reach = np.linalg.solve(network.conductance_w_per_k, causes)
    heated = network.inject.T @ reach
    standing = Standing(
        emission_of(lamp, assembly.branches, groups),
        assembly.exchange,
        np.ascontiguousarray(heated[:, :inputs]),
        np.ascontiguousarray(heated[:, inputs:]),
        len(groups),
        float(airflow),
    )
    channels, sensors, ambients = len(lamp.channels), len(lamp.sensors), len(lamp.ambients)
    acting = Acting(np.zeros(channels), np.zeros(sensors), np.zeros(ambients))
    lit, found = dark(standing.emission), _unfound(network, channels)
    bodies = assembly.first_junction + len(groups)
    return Resting(
        lamp=lamp,
        assembly=assembly,
        network=network,
        junctions=assembly.junction_nodes,
        sensor_nodes=bodies + np.arange(len(lamp.sensors)),
        limits_c=assembly.limits_c,
        reach=np.asarray(reach),
        standing=standing,
        period_s=1.0 / lamp.driver.frequency_hz if lamp.driver.dimming == "pwm" else 0.0,
        settle=direct(settle, standing, lit, acting, found),
    )


def _unfound(network: Network, channels: int) -> Found:
    u = network.inject.shape[1]
    return Found(np.zeros(u), np.zeros(u), np.zeros((3, channels)), np.zeros((u, u)))
