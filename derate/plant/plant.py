"""A lamp's heat and light, advanced interval by interval."""

import math
from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant import advance as motion
from derate.plant.channel import branches_of, groups_of
from derate.plant.emission import ELECTRICAL_W, LIGHT_LM, emission_of
from derate.plant.modes import Modes, modes_of, stacked
from derate.plant.network import assemble
from derate.plant.outside import outside_tables
from derate.plant.state import BEGIN, Interval, Machine, State, project, state_of
from derate.plant.tally import Tally, empty

Array = NDArray[np.float64]

TOLERANCE_K = 1e-4
"""Error allowed in each step [K]: a hundredth of what a table in centi-degC can show."""


class Intervals(Protocol):
    """Recorded intervals: arrays by name, one row each."""

    def __getitem__(self, name: str, /) -> NDArray[np.generic]: ...


class Plant:
    """The plant of ``lamp``: node temperatures, light and what adds up over a run.

    ``node_names``: nodes of the lamp file, junctions, sensors' bodies; ``junctions``: channel ->
    indices of its junction nodes; ``sensor_nodes``: index per sensor; ``limits_c`` (N) [degC], nan
    where there is none; ``on_current_a`` [A] per channel, all branches; ``configuration``: number
    of the present airflow and links; ``tally``: what has added up. ``max_step_s`` [s] caps the
    steps inside an interval; ``tolerance_k`` [K] is the error allowed in each.
    """

    def __init__(self, lamp: Lamp) -> None:
        self.lamp = lamp
        branches = branches_of(lamp)
        groups = groups_of(branches)
        emission = emission_of(lamp, branches, groups)
        network = assemble(lamp)
        self.node_names = network.names
        first = len(lamp.nodes)
        self.junctions = {
            name: first + np.array([g for g, group in enumerate(groups) if group.channel == i])
            for i, name in enumerate(lamp.channels)
        }
        self.sensor_nodes = first + len(groups) + np.arange(len(lamp.sensors))
        self.limits_c = self._limits()
        self.on_current_a = np.array([channel.current_a for channel in lamp.channels.values()])
        self.max_step_s = math.inf
        self.tolerance_k = TOLERANCE_K
        self.configuration = 0
        self._machine = Machine(emission, self.limits_c, first)
        self._configurations: dict[tuple[float, frozenset[tuple[str, float]]], int] = {}
        self._modes: list[Modes] = []
        self.configure(1.0, {})
        self.reset(np.full(len(lamp.ambients), 25.0))

    def _limits(self) -> Array:
        limits_c = np.full(len(self.node_names), np.nan)
        for i, node in enumerate(self.lamp.nodes.values()):
            if node.limit_c is not None:
                limits_c[i] = node.limit_c
        for name, channel in self.lamp.channels.items():
            limits_c[self.junctions[name]] = channel.junction_limit_c
        return limits_c

    def node_index(self, name: str) -> int:
        """Index of a node by its name."""
        return self.node_names.index(name)

    def reset(
        self,
        ambient_c: Array,
        start_c: float | None = None,
        start_nodes_c: Array | None = None,
    ) -> None:
        """Begin anew at time 0 with an empty tally.

        All nodes start at ``start_nodes_c`` [degC, one per node], else at ``start_c`` [degC], else
        in equilibrium with the ambients ``ambient_c`` [degC, one each], the lamp off, in the
        present configuration.
        """
        if start_nodes_c is None:
            start_nodes_c = self._equilibrium(ambient_c)
            if start_c is not None:
                start_nodes_c[:] = start_c
        self._start_c = start_nodes_c.copy()
        self._state = self._state_at(start_nodes_c)
        self.tally = self._tally_at(start_nodes_c)

    def _equilibrium(self, ambient_c: Array) -> Array:
        """Node temperatures [degC] that the ambients lead to, after any time, without heat."""
        modes = self._modes[self.configuration]
        inputs = modes.drive.shape[0] - len(ambient_c)
        settled = modes.rate > 0
        cause = np.zeros(modes.response.shape[0])
        cause[len(cause) - len(ambient_c) :] = ambient_c
        push = ambient_c @ modes.drive[inputs:]
        cause[: len(modes.rate)][settled] = push[settled] / modes.rate[settled]
        return cause @ modes.response[:, : len(self.node_names)]

    def _state_at(self, node_c: Array) -> State:
        return state_of(self._modes[self.configuration], self._machine.emission, node_c)

    def _tally_at(self, node_c: Array) -> Tally:
        modes, ambients = self._modes[0], len(self.lamp.ambients)
        return empty(node_c, len(self.lamp.channels), len(modes.drive) - ambients, ambients)

    def configure(self, airflow: float, degraded: Mapping[str, float]) -> None:
        """Set the airflow factor [-] and links' resistance factors [-]; temperatures go on."""
        key = (airflow, frozenset(degraded.items()))
        known = self._configurations.get(key)
        if known is None:
            known = self._configurations[key] = len(self._modes)
            network = assemble(self.lamp, airflow=airflow, degraded=dict(degraded))
            self._modes.append(modes_of(network))
        if known != self.configuration:
            self.configuration = known
            project(self._modes[known], self._state)

    def advance(
        self,
        dt_s: float,
        duties: Array,
        requests: Array,
        ambient_c: Array,
        sensor_heat_w: Array,
    ) -> None:
        """Advance by ``dt_s`` [s] under constant inputs.

        ``duties``, ``requests``: 0..1 per channel; ``ambient_c`` [degC] per ambient;
        ``sensor_heat_w`` [W] per sensor. All are arrays of float64.
        """
        motion.advance(
            self._machine,
            self._modes[self.configuration],
            self._state,
            self.tally,
            Interval(duties, requests, ambient_c, sensor_heat_w),
            dt_s,
            self.max_step_s,
            self.tolerance_k,
        )

    def replay(self, intervals: Intervals, *, halved: bool = False) -> Array:
        """Node temperatures [degC, one row per interval] when recorded intervals are gone through.

        ``intervals`` has ``dt_s``, ``duties``, ``requests``, ``ambient_c``, ``sensor_heat_w`` and
        ``configuration`` since the last reset. ``halved``: with steps of half the length at most
        and a quarter of the tolerance, to measure what the steps cost. The plant stays as it is.
        """
        dt_s = np.ascontiguousarray(intervals["dt_s"], dtype=float).reshape(-1)
        which = np.ascontiguousarray(intervals["configuration"], dtype=np.int64).reshape(-1)
        acting = Interval(
            *(
                np.ascontiguousarray(intervals[name], dtype=float).reshape(len(dt_s), -1)
                for name in Interval._fields
            )
        )
        node_c = np.empty((len(dt_s), len(self.node_names)))
        motion.replay(
            self._machine,
            stacked(self._modes),
            which,
            self._state_at(self._start_c),
            self._tally_at(self._start_c),
            acting,
            dt_s,
            0.5 if halved else 1.0,
            self.tolerance_k / 4 if halved else self.tolerance_k,
            node_c,
        )
        return node_c

    @property
    def time_s(self) -> float:
        """Time since the reset [s]."""
        return float(self.tally.clock_s[0])

    @property
    def slowest_s(self) -> float:
        """The longest time constant of the present configuration [s]."""
        rate = self._modes[self.configuration].rate
        return float(1.0 / rate[rate > 0].min()) if (rate > 0).any() else 0.0

    @property
    def node_c(self) -> Array:
        """Present temperature of every node [degC], a view."""
        return self._state.node_c[BEGIN]

    @property
    def light_lm(self) -> Array:
        """Present luminous flux per channel, mean over a PWM period [lm]."""
        return self._state.output[BEGIN, LIGHT_LM]

    @property
    def electrical_w(self) -> Array:
        """Power drawn from the supply per channel, mean over a PWM period [W]."""
        return self._state.output[BEGIN, ELECTRICAL_W]

    @property
    def current_a(self) -> Array:
        """Present current per channel, all branches, mean over a PWM period [A]."""
        return self._state.duty * self.on_current_a

    @property
    def outside(self) -> set[str]:
        """Sentences about emitters that left the tables of the lamp file since the reset."""
        return outside_tables(self.lamp, self._state.seen_c, self._state.seen_a)
