"""A lamp's heat and light, advanced interval by interval."""

import math
from collections.abc import Mapping
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant import advance as motion
from derate.plant.emission import ELECTRICAL_W, LIGHT_LM, emission_of
from derate.plant.equilibrium import equilibrium_c
from derate.plant.kernel import direct
from derate.plant.modes import Modes, modes_of
from derate.plant.network import Assembly
from derate.plant.outside import outside_tables
from derate.plant.ripple import ripple_k
from derate.plant.stack import stacked
from derate.plant.state import BEGIN, Interval, Machine, State, project, state_of
from derate.plant.tally import Tally, empty

Array = NDArray[np.float64]

TOLERANCE_K = 1e-4
"""Error allowed in each step [K]: a hundredth of what a table in centi-degC can show."""


class Intervals(Protocol):
    """Recorded intervals: arrays by name, one row each."""

    def __getitem__(self, name: str, /) -> NDArray[np.generic]: ...


class Mark(NamedTuple):
    """Where a plant was: what ``State`` and ``Tally`` held of it, but for memos."""

    cause: Array
    node_c: Array
    output: Array
    duty: Array
    seen: tuple[Array, Array]
    tally: tuple[Array, ...]


class Plant:
    """The plant of ``lamp``: node temperatures, light and what adds up over a run.

    ``node_names``: as in ``derate.plant.network``; ``junctions``: channel -> indices of its
    junction nodes, the first of all of them at ``first_junction``; ``sensor_nodes``: index per
    sensor; ``limits_c`` (N) [degC], nan where there is
    none; ``on_current_a`` [A] per channel, all branches; ``airflow`` (1): the present factor [-];
    ``configuration``: number of the present state of the links; ``tally``: what has added up.
    ``machine``, ``modes`` (one of each configuration) and ``state`` are what the kernels take.
    ``max_step_s`` [s] caps the steps inside an interval; ``tolerance_k`` [K] is the error allowed
    in each. ``even``: the faces of a board shed by their mean temperatures alone; ``nominal``: the
    plant in whose nodes of the board this one's are wanted, with numbers of its own.
    """

    def __init__(self, lamp: Lamp, *, even: bool = False, nominal: "Plant | None" = None) -> None:
        self.lamp = lamp
        board = nominal._assembly.board if nominal else None
        self._assembly: Assembly
        self._assembly = assembly = Assembly(lamp, even=even, nominal=board)
        self.node_names = assembly.names
        first, groups = assembly.first_junction, assembly.groups
        self.junctions = assembly.junction_nodes
        self.first_junction = first
        self.sensor_nodes = first + len(groups) + np.arange(len(lamp.sensors))
        self.limits_c = assembly.limits_c
        self.on_current_a = np.array([channel.current_a for channel in lamp.channels.values()])
        self.airflow = np.ones(1)
        self.max_step_s = math.inf
        self.tolerance_k = TOLERANCE_K
        self.configuration = 0
        self.machine = Machine(
            emission_of(lamp, assembly.branches, groups),
            assembly.exchange,
            self.limits_c,
            first,
            1.0 / lamp.driver.frequency_hz if lamp.driver.dimming == "pwm" else 0.0,
            every_ripple=True,
        )
        self._blown = any(link.airflow for link in lamp.links)
        self.configurations: dict[tuple[float, frozenset[tuple[str, float]]], int] = {}
        self.modes: list[Modes] = []
        self.configure(1.0, {})
        channels, ambients = len(lamp.channels), len(lamp.ambients)
        self._acting = Interval(
            np.zeros(channels),
            np.zeros(channels),
            np.zeros(ambients),
            np.zeros(len(lamp.sensors)),
            self.airflow,
        )
        self.reset(np.full(ambients, 25.0))
        self._advance = direct(motion.advance, *self._arguments(0.0))

    def node_index(self, name: str) -> int:
        """Index of a node by its name, or by another name of a node that is shared."""
        return self._assembly.place[name]

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
        self._start_c = np.array(start_nodes_c, dtype=float)
        self.state, self.tally = self.beginning()

    def beginning(self) -> tuple[State, Tally]:
        """State and tally as at the last reset, new ones, in the present configuration."""
        return self._state_at(self._start_c), self._tally_at(self._start_c)

    def _equilibrium(self, ambient_c: Array) -> Array:
        """Node temperatures [degC] that the ambients lead to, after any time, without heat."""
        modes, exchange = self.modes[self.configuration], self.machine.exchange
        return equilibrium_c(modes, exchange, np.asarray(ambient_c, dtype=float), self.airflow[0])

    def _state_at(self, node_c: Array) -> State:
        return state_of(self.modes[self.configuration], self.machine.emission, node_c)

    def _tally_at(self, node_c: Array) -> Tally:
        inputs = len(self._assembly.heated)
        return empty(node_c, len(self.lamp.channels), inputs, len(self.lamp.ambients))

    def configure(self, airflow: float, degraded: Mapping[str, float]) -> None:
        """Set the airflow factor [-] and the resistance factors of links, interface and bodies [-].

        Temperatures go on. The airflow asks for another network only if a link depends on it.
        """
        self.airflow[0] = airflow
        key = (airflow if self._blown else 1.0, frozenset(degraded.items()))
        known = self.configurations.get(key)
        if known is None:
            known = self.configurations[key] = len(self.modes)
            self.modes.append(modes_of(self._assembly.network(airflow, degraded)))
        if known != self.configuration:
            self.configuration = known
            project(self.modes[known], self.state)

    def mark(self) -> Mark:
        """Where it is, to come back to with ``back``."""
        state = self.state
        return Mark(
            state.cause.copy(),
            state.node_c.copy(),
            state.output.copy(),
            state.duty.copy(),
            (state.seen_c.copy(), state.seen_a.copy()),
            tuple(total.copy() for total in self.tally),
        )

    def back(self, mark: Mark) -> None:
        """Be again where it was at a mark, in the present configuration."""
        state = self.state
        state.cause[:], state.node_c[:], state.output[:] = mark.cause, mark.node_c, mark.output
        state.duty[:] = mark.duty
        state.seen_c[:], state.seen_a[:] = mark.seen
        for total, then in zip(self.tally, mark.tally, strict=True):
            total[:] = then

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
        ``sensor_heat_w`` [W] per sensor.
        """
        acting = self._acting
        acting.duties[:] = duties
        acting.requests[:] = requests
        acting.ambient_c[:] = ambient_c
        acting.sensor_heat_w[:] = sensor_heat_w
        self._advance(*self._arguments(dt_s))

    def _arguments(self, dt_s: float) -> tuple[object, ...]:
        """What the kernel wants, of the same types every time."""
        return (
            self.machine,
            self.modes[self.configuration],
            self.state,
            self.tally,
            self._acting,
            float(dt_s),
            float(self.max_step_s),
            float(self.tolerance_k),
        )

    def replay(self, intervals: Intervals, *, halved: bool = False) -> Array:
        """Node temperatures [degC, one row per interval] when recorded intervals are gone through.

        ``intervals`` has the fields of ``Interval``, ``dt_s`` and ``configuration`` since the last
        reset. ``halved``: with steps of half the length at most and a quarter of the tolerance, to
        measure what the steps cost. The plant stays as it is.
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
            self.machine,
            stacked(self.modes),
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
        rate = self.modes[self.configuration].rate
        return float(1.0 / rate[rate > 0].min()) if (rate > 0).any() else 0.0

    @property
    def node_c(self) -> Array:
        """Present temperature of every node [degC], a view."""
        return self.state.node_c[BEGIN]

    @property
    def light_lm(self) -> Array:
        """Present luminous flux per channel, mean over a PWM period [lm]."""
        return self.state.output[BEGIN, LIGHT_LM]

    @property
    def electrical_w(self) -> Array:
        """Power drawn from the supply per channel, mean over a PWM period [W]."""
        return self.state.output[BEGIN, ELECTRICAL_W]

    @property
    def current_a(self) -> Array:
        """Present current per channel, all branches, mean over a PWM period [A]."""
        return self.state.duty * self.on_current_a

    @property
    def junction_ripple_k(self) -> Array:
        """Crest of the PWM ripple of every junction above its mean in the last step [K], a view."""
        return self.state.ripple_k

    @property
    def ripple_k(self) -> Array:
        """Present crest of the PWM ripple of every node above its mean [K]."""
        modes, groups = self.modes[self.configuration], self._assembly.groups
        if self.machine.period_s == 0.0:
            return np.zeros(len(self.node_names))
        count = len(modes.rate)
        duty = self.state.duty[[group.channel for group in groups]]
        heat_w = self.state.cause[BEGIN, count : count + len(groups)]
        on_heat_w = np.divide(heat_w, duty, out=np.zeros(len(groups)), where=duty > 0.0)
        return ripple_k(modes, self.machine.period_s, duty, on_heat_w)

    @property
    def outside(self) -> set[str]:
        """Sentences about emitters that left the tables of the lamp file since the reset."""
        return outside_tables(self.lamp, self.state.seen_c, self.state.seen_a)
