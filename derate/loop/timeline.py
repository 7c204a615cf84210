"""The reference clock: firmware tasks, profile and plant, each at its own instants.

Time is kept in whole nanoseconds, so that tasks of equal period meet exactly and never drift.
What falls on one instant happens in a fixed order: the world changes, a pending duty takes
effect, the ADC converts, the controller runs. Before any of it the plant is advanced exactly
over the time that has passed.
"""

import itertools
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import simpy
from numpy.typing import NDArray
from simpy.core import EventPriority

from derate.control.command import ONE_Q15, Command
from derate.errors import BoardGoneError
from derate.lamp.driver import Timing
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.body import Body
from derate.loop.cutout import CutoutMerit, Switches, Switching
from derate.loop.inputs import Inputs
from derate.loop.instant import NANOSECONDS, nanoseconds
from derate.loop.trace import Rows
from derate.plant.plant import Plant
from derate.sensing.chain import Chain, current_at_sample
from derate.sensing.noise import uniform

WORLD, UPDATE, CONVERT, CONTROL = range(4)
"""Order of what happens at one instant (SimPy runs lower priorities first)."""
JITTER_CONVERT, JITTER_CONTROL = 1001, 1002
"""The ``use`` of the random numbers that delay the two tasks."""

RUNAWAY_C = 1000.0
"""No lamp is hotter; one that is computed to be runs away, the run ends, and no temperature above
is told, since it would mean nothing."""
LOOK_EVERY = 16
"""Control ticks from one look for a runaway to the next."""

Task = Generator[simpy.Event, Any, None]
Stop = Callable[[], bool]


def going_on() -> bool:
    """Never stop."""
    return False


class RunawayError(Exception):
    """A node has become hotter than any lamp can be."""


class Wake(simpy.Event):
    """An event at an absolute time, with a place in the order of that instant."""

    def __init__(self, env: simpy.Environment, at_ns: int, order: int) -> None:
        super().__init__(env)
        self._ok = True
        self._value = None
        env.schedule(self, priority=EventPriority(order), delay=at_ns - env.now)


@dataclass(frozen=True)
class Recording:
    """Raw rows of a run: ``rows`` one per control tick, ``intervals`` one per plant advance.

    ``ran_away``: it ended before its time because a node had passed RUNAWAY_C; ``cut_short``: it
    did because a real board was gone, in a sentence. ``switchings`` and ``cutouts``: when cut-outs
    turned, and what came of each; none on the batch clock, which does not know of them.
    """

    rows: Rows
    intervals: Rows
    plant: Plant
    chains: tuple[Chain, ...]
    ran_away: bool
    cut_short: str | None = None
    switchings: tuple[Switching, ...] = ()
    cutouts: dict[str, CutoutMerit] = field(default_factory=dict)


class Timeline:
    """One lamp, one profile, one controller, once.

    ``start_nodes_c`` [degC, one per plant node] and ``start_codes`` (one per sensor) start from
    given temperatures and conversions instead of those of the profile. ``seed`` and ``unit``
    choose the random numbers. When ``stop()`` becomes true, KeyboardInterrupt ends the run.
    """

    def __init__(
        self,
        lamp: Lamp,
        profile: Profile,
        body: Body,
        chains: tuple[Chain, ...],
        *,
        seed: int = 0,
        unit: int = 0,
        start_nodes_c: NDArray[np.float64] | None = None,
        start_codes: Sequence[int] | None = None,
        stop: Stop = going_on,
    ) -> None:
        self.lamp, self.profile, self.body, self.chains = lamp, profile, body, chains
        self.seed, self.unit, self.stop = seed, unit, stop
        self.plant = Plant(lamp)
        self.inputs = Inputs(lamp, profile)
        self.plant.configure(self.inputs.airflow, self.inputs.condition.degraded)
        self.plant.reset(self.inputs.ambient_c, profile.start_c, start_nodes_c)
        self.switches = Switches(lamp, self.plant)
        self.env = simpy.Environment(initial_time=0)
        self.end_ns = nanoseconds(profile.duration_s)
        self.done_ns = 0
        self.duties = np.zeros(len(lamp.channels))
        self.asked = np.zeros(len(lamp.channels))
        self.sensor_heat_w = np.zeros(len(chains))
        self.commanded = np.zeros(len(lamp.channels))
        self.in_effect = np.zeros(len(lamp.channels))
        self.asked_next = np.zeros(len(lamp.channels))
        self.pending = False
        self.full_current_a = [channel.current_a for channel in lamp.channels.values()]
        self.coupled = [
            bool(d.ground_v_per_a or d.supply_v_per_a)
            for d in (sensor.disturbance for sensor in lamp.sensors.values())
        ]
        self.command = Command((0,) * len(lamp.channels), ONE_Q15, 0)
        self.rows, self.intervals = self._recorders()
        self.codes = list(start_codes) if start_codes is not None else self._healthy_codes()

    def run(self) -> Recording:
        """Run from start to end of the profile."""
        self.body.start()
        self._sample(0, 0.0)
        for task in (self._world(), self._convert(), self._control()):
            self.env.process(task)
        ran_away, cut_short = False, None
        try:
            self.env.run(until=self.end_ns)
            self._advance(self.end_ns)
        except RunawayError:
            ran_away = True
        except BoardGoneError as error:
            cut_short = str(error)
        self._record()
        return Recording(
            self.rows,
            self.intervals,
            self.plant,
            self.chains,
            ran_away,
            cut_short,
            tuple(self.switches.turned),
            self.switches.merits(self.done_ns / NANOSECONDS),
        )

    # -- tasks ---------------------------------------------------------------------------------

    def _world(self) -> Task:
        """Apply the profile's jumps and events."""
        for at_ns in instants(self.profile, self.end_ns):
            yield Wake(self.env, at_ns, WORLD)
            self._advance(at_ns)
            self.inputs.jump(at_ns / NANOSECONDS)
            self.plant.configure(self.inputs.airflow, self.inputs.condition.degraded)
            self._drive()

    def _convert(self) -> Task:
        """Convert every sensor, each ADC period."""
        timing = self.lamp.timing
        for tick, at_ns in ticks(
            timing.adc_period_s,
            timing.adc_phase_s,
            timing.adc_jitter_s,
            JITTER_CONVERT,
            self.seed,
            self.unit,
        ):
            yield Wake(self.env, at_ns, CONVERT)
            self._advance(at_ns)
            self._sample(tick, at_ns / NANOSECONDS)

    def _control(self) -> Task:
        """Run the controller, each control period."""
        timing = self.lamp.timing
        for tick, at_ns in ticks(
            timing.control_period_s,
            timing.control_phase_s,
            timing.control_jitter_s,
            JITTER_CONTROL,
            self.seed,
            self.unit,
        ):
            yield Wake(self.env, at_ns, CONTROL)
            if self.stop():
                raise KeyboardInterrupt
            self._advance(at_ns)
            if tick % LOOK_EVERY == 0 and not self.plant.node_c.max() < RUNAWAY_C:
                raise RunawayError
            if self.inputs.airflow_moves:
                self.plant.configure(self.inputs.airflow, self.inputs.condition.degraded)
            requests_q15 = self._requests_q15()
            self.command = self.body.step(self.codes, requests_q15)
            self._update(requests_q15)
            self._record()

    def _update(self, requests_q15: Sequence[int]) -> None:
        """Let the commanded duties take effect, now or at the next update instant."""
        self.commanded = _quantised(self.command.duties_q15, self.lamp.driver.resolution_bits)
        self.asked_next = _quantised(requests_q15, self.lamp.driver.resolution_bits)
        if self.lamp.timing.update_period_s == 0.0:
            self._drive()
        elif not self.pending:
            self.pending = True
            wake = Wake(self.env, next_update(self.lamp.timing, int(self.env.now)), UPDATE)
            wake.callbacks.append(self._take_effect)

    def _take_effect(self, _: simpy.Event) -> None:
        self._advance(int(self.env.now))
        self.pending = False
        self._drive()

    # -- what the tasks do ---------------------------------------------------------------------

    def _drive(self) -> None:
        """Let what is commanded take effect.

        ``asked`` is what would be driven now if nothing limited it.
        """
        self.in_effect[:] = self.commanded
        self.asked[:] = self.asked_next
        self._connect()

    def _connect(self) -> None:
        """What is in effect drives; a channel stuck on at full, none behind an open cut-out."""
        self.duties[:] = self.in_effect
        for i, name in enumerate(self.lamp.channels):
            if name in self.inputs.condition.stuck_on:
                self.duties[i] = 1.0
        self.duties[self.switches.dead] = 0.0

    def _advance(self, at_ns: int) -> None:
        """Advance the plant to ``at_ns``, from one turn of a cut-out to the next."""
        while self.done_ns < at_ns:
            self._advance_towards(at_ns)

    def _advance_towards(self, at_ns: int) -> None:
        """One interval of constant duties; values along a line are taken at its middle."""
        self.inputs.move((self.done_ns + at_ns) / 2 / NANOSECONDS)
        acting = (self.duties, self.asked, self.inputs.ambient_c, self.sensor_heat_w)
        passed_ns, turned = self.switches.advance(self.done_ns, at_ns - self.done_ns, acting)
        self.intervals.append(
            passed_ns / NANOSECONDS, *acting, self.plant.airflow, self.plant.configuration
        )
        self.done_ns += passed_ns
        if turned:
            self._connect()
        self.inputs.move(self.done_ns / NANOSECONDS)

    def _sample(self, tick: int, time_s: float) -> None:
        """Convert every sensor at this instant."""
        for i, chain in enumerate(self.chains):
            thermistor_c = float(self.plant.node_c[self.plant.sensor_nodes[i]])
            self.codes[i] = chain.sense(
                thermistor_c,
                self._current_a(chain, time_s) if self.coupled[i] else 0.0,
                seed=self.seed,
                unit=self.unit,
                tick=tick,
                fault=self.inputs.condition.sensors.get(chain.name),
                held_code=self.codes[i],
            )
            self.sensor_heat_w[i] = chain.self_heat_w(thermistor_c)

    def _healthy_codes(self) -> list[int]:
        """What the sensors would give at power-up without faults; a stuck one stays there."""
        node_c = self.plant.node_c[self.plant.sensor_nodes]
        return [
            chain.sense(float(thermistor_c), seed=self.seed, unit=self.unit)
            for chain, thermistor_c in zip(self.chains, node_c, strict=True)
        ]

    def _current_a(self, chain: Chain, time_s: float) -> float:
        """LED current [A] at this instant of a sensor's sample."""
        sampling = chain.sensor.disturbance.sampling
        return current_at_sample(
            self.lamp.driver, self.full_current_a, self.duties.tolist(), time_s, sampling
        )

    def _requests_q15(self) -> list[int]:
        """The requests as the firmware gets them, rounded to Q15."""
        return [round(request * ONE_Q15) for request in self.inputs.requests.tolist()]

    def _record(self) -> None:
        """Add the row of this instant."""
        tally, plant = self.plant.tally, self.plant
        self.rows.append(
            self.done_ns / NANOSECONDS,
            plant.node_c,
            plant.junction_ripple_k,
            self.codes,
            self.inputs.ambient_c,
            self.inputs.airflow,
            self.inputs.requests,
            self.command.limit_q15,
            self.command.status,
            tally.light_lm_s,
            tally.asked_lm_s,
        )

    def _recorders(self) -> tuple[Rows, Rows]:
        """Empty recorders, large enough for a run without surprises."""
        lamp, timing = self.lamp, self.lamp.timing
        channels, sensors, ambients = len(lamp.channels), len(self.chains), len(lamp.ambients)
        ticks = int(self.profile.duration_s / timing.control_period_s) + 2
        rows = Rows(
            ticks,
            {
                "time_s": (1, float),
                "node_c": (len(self.plant.node_names), float),
                "ripple_k": (len(self.plant.junction_ripple_k), float),
                "code": (sensors, int),
                "ambient_c": (ambients, float),
                "airflow": (1, float),
                "request": (channels, float),
                "limit_q15": (1, int),
                "status": (1, int),
                "light_lm_s": (channels, float),
                "asked_lm_s": (channels, float),
            },
        )
        intervals = Rows(
            ticks,
            {
                "dt_s": (1, float),
                "duties": (channels, float),
                "requests": (channels, float),
                "ambient_c": (ambients, float),
                "sensor_heat_w": (sensors, float),
                "airflow": (1, float),
                "configuration": (1, int),
            },
        )
        return rows, intervals


def ticks(
    period_s: float, phase_s: float, jitter_s: float, use: int, seed: int, unit: int
) -> Iterator[tuple[int, int]]:
    """Number and instant [ns] of each run of a periodic task, counted from 1."""
    phase_ns, period_ns = nanoseconds(phase_s), nanoseconds(period_s)
    for tick in itertools.count(1):
        late_s = jitter_s * uniform(seed, unit, tick, use) if jitter_s else 0.0
        yield tick, phase_ns + (tick - 1) * period_ns + nanoseconds(late_s)


def next_update(timing: Timing, now_ns: int) -> int:
    """The instant [ns] at which what is commanded now takes effect, the next update after it."""
    phase_ns, period_ns = nanoseconds(timing.update_phase_s), nanoseconds(timing.update_period_s)
    return phase_ns + ((now_ns - phase_ns) // period_ns + 1) * period_ns


def _quantised(duties_q15: Sequence[int], bits: int) -> NDArray[np.float64]:
    """Duties as the driver can make them: rounded down to its resolution, never up."""
    levels = 1 << bits
    return np.array([(duty * levels // ONE_Q15) / levels for duty in duties_q15])


def instants(profile: Profile, end_ns: int) -> list[int]:
    """Every instant [ns] at which something of the profile jumps, after 0 and before the end."""
    times = set(profile.jumps())
    return sorted(at for at in map(nanoseconds, times) if 0 < at < end_ns)
