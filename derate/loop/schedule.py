"""A profile as the batch clock goes through it: instants, and what acts between them.

The instants are those of the timeline: every run of its tasks and every jump of the profile. The
world is asked in the timeline's order, by the same ``Inputs``, so that both clocks give the plant
the very same numbers. Tasks that jitter do so by the numbers of one unit, whose schedule it is.
"""

from collections.abc import Mapping
from itertools import takewhile
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.loop.inputs import Inputs
from derate.loop.instant import NANOSECONDS, nanoseconds
from derate.loop.timeline import (
    JITTER_CONTROL,
    JITTER_CONVERT,
    instants,
    next_update,
    ticks,
)
from derate.sensing.chain import pwm_phases
from derate.sensing.circuit import HEALTHY, OPEN, SHORT

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

STUCK = 3
"""State of a sensor that keeps its code, beside those of its wires."""
WIRES = {"sensor open": OPEN, "sensor short": SHORT, "sensor stuck": STUCK}


class Acting(NamedTuple):
    """What acts in an interval, one row each: W rows, C channels, M ambients, S sensors.

    ``ambient_c`` (W, M) at mid-interval; ``airflow`` (W, 1); ``configuration`` (W): of the links;
    ``requests_q15`` (W, C): what the firmware was told last; ``asked_q15`` (W, C): the requests in
    force, as commands take effect; ``request`` (W): the largest now [0..1]; ``stuck_on`` (W, C);
    ``wires`` and ``offset_k`` (W, S): the sensors' faults.
    """

    ambient_c: Array
    airflow: Array
    configuration: Whole
    requests_q15: Whole
    asked_q15: Whole
    request: Array
    stuck_on: NDArray[np.bool_]
    wires: Whole
    offset_k: Array


class Schedule(NamedTuple):
    """K intervals: ``dt_s`` (K) long, row ``row`` (K) of ``acting`` in force.

    At the beginning of each, in this order, ``effect`` (K): what is commanded takes effect;
    ``convert``: the ADC converts; ``control``: the controller runs. ``still`` (K): whether no input
    has changed since the control tick before; ``phase`` (K): of the PWM at the beginning [0..1).
    """

    dt_s: Array
    row: Whole
    effect: NDArray[np.bool_]
    convert: NDArray[np.bool_]
    control: NDArray[np.bool_]
    still: NDArray[np.bool_]
    phase: Array
    acting: Acting


class Course(NamedTuple):
    """A schedule and what only Python needs of it.

    ``configurations``: airflow [-] and resistance factors of each; ``time_s`` (K + 1) with
    ``ambient_c``, ``airflow`` and ``request`` (K + 1, ..) as they are at the instants; ``start_c``
    (M): the ambients at the start.
    """

    schedule: Schedule
    configurations: tuple[tuple[float, Mapping[str, float]], ...]
    start_c: Array
    time_s: Array
    ambient_c: Array
    airflow: Array
    request: Array


def jitters(lamp: Lamp) -> bool:
    """Whether the instants of the tasks differ from unit to unit."""
    return lamp.timing.adc_jitter_s > 0.0 or lamp.timing.control_jitter_s > 0.0


def course_of(lamp: Lamp, profile: Profile, seed: int = 0, unit: int = 0) -> Course:
    """The schedule of a profile; the same for all lamps that differ in numbers only.

    ``seed`` and ``unit`` count where the tasks jitter.
    """
    end_ns, tasks = nanoseconds(profile.duration_s), _Tasks(lamp, profile, seed, unit)
    edges, world = np.append(tasks.at_ns, end_ns), _World(lamp, profile, tasks)
    looked = tasks.looked_at(always=world.inputs.moves)
    rows: dict[tuple[Any, ...], int] = {}
    inputs: list[tuple[Any, ...]] = []
    row: list[int] = []
    for i, (begin_ns, after_ns) in zip(
        looked.tolist(), zip(edges[looked].tolist(), edges[looked + 1].tolist(), strict=True),
        strict=True,
    ):  # fmt: skip
        world.reach(begin_ns, i)
        inputs.append(world.now())
        acting = world.acting((begin_ns + after_ns) / 2 / NANOSECONDS)
        row.append(rows.setdefault(acting, len(rows)))
    world.reach(end_ns)
    lasts = np.diff(looked, append=len(tasks.at_ns))
    now = [
        np.append(np.repeat(np.array(column, dtype=float), lasts, axis=0), [end], axis=0)
        for column, end in zip(zip(*inputs, strict=True), world.now(), strict=True)
    ]
    schedule = Schedule(
        np.diff(edges) / NANOSECONDS,
        np.repeat(np.array(row), lasts),
        tasks.jumps | tasks.effects,
        tasks.converts,
        tasks.controls,
        _still(tasks.controls, now),
        pwm_phases(lamp.driver, tasks.at_ns / NANOSECONDS),
        _stacked(rows),
    )
    return Course(schedule, tuple(world.configurations), world.start_c,
                  edges / NANOSECONDS, *now)  # fmt: skip


class _Tasks:
    """The instants ``at_ns`` (K) [ns] of everything that happens, before the end, from 0 on.

    ``jumps``, ``effects``, ``converts`` and ``controls`` (K): whether the profile jumps then, what
    is commanded takes effect - nowhere, where it does at once - and which tasks run.
    """

    def __init__(self, lamp: Lamp, profile: Profile, seed: int, unit: int) -> None:
        timing, end_ns = lamp.timing, nanoseconds(profile.duration_s)

        def runs(period_s: float, phase_s: float, jitter_s: float, use: int) -> Whole:
            if jitter_s == 0.0:
                return np.arange(nanoseconds(phase_s), end_ns, nanoseconds(period_s))
            all_runs = ticks(period_s, phase_s, jitter_s, use, seed, unit)
            return np.array([*takewhile(lambda ns: ns < end_ns, (ns for _, ns in all_runs))], int)

        converts = runs(
            timing.adc_period_s, timing.adc_phase_s, timing.adc_jitter_s, JITTER_CONVERT
        )
        controls = runs(
            timing.control_period_s, timing.control_phase_s, timing.control_jitter_s, JITTER_CONTROL
        )
        jumps = np.array(instants(profile, end_ns), np.int64)
        self.at_once = timing.update_period_s == 0.0
        updates = [] if self.at_once else [next_update(timing, ns) for ns in controls.tolist()]
        effects = np.array([ns for ns in updates if ns < end_ns], np.int64)
        some = (jumps, effects, converts, controls)
        self.at_ns = np.unique(np.concatenate(([0], *some)))
        self.jumps, self.effects, self.converts, self.controls = (
            np.isin(self.at_ns, those) for those in some
        )

    def looked_at(self, *, always: bool) -> Whole:
        """Indices of the instants at which anything that acts may change.

        At a jump, at the control run that reads the new requests, and where what that commands
        takes effect; ``always``: everywhere, as something moves along a line.
        """
        if always:
            return np.arange(len(self.at_ns))
        found = np.unique(np.append(np.flatnonzero(self.jumps), 0))
        for then, side in ((self.controls, "left"), (self.effects, "right")):
            at = np.append(np.flatnonzero(then), len(self.at_ns))
            after = at[np.searchsorted(at[:-1], found, side=side)]  # type: ignore[call-overload]
            found = np.union1d(found, after)
            found = found[found < len(self.at_ns)]
        return found


def _still(control: NDArray[np.bool_], now: list[Array]) -> NDArray[np.bool_]:
    """Whether no input differs from the one at the control tick before."""
    at = np.flatnonzero(control)
    changed = np.concatenate([np.diff(column[at], axis=0) != 0 for column in now], axis=1)
    still = np.zeros(len(control), dtype=bool)
    still[at[1:]] = ~changed.any(axis=1)
    return still


def _stacked(rows: Mapping[tuple[Any, ...], int]) -> Acting:
    columns = list(zip(*rows, strict=True))
    kinds = (float, float, np.int64, np.int64, np.int64, float, bool, np.int64, float)
    return Acting(*(np.array(c, dtype=kind) for c, kind in zip(columns, kinds, strict=True)))


class _World:
    """The profile's inputs on their way, and the configurations of the links met so far."""

    def __init__(self, lamp: Lamp, profile: Profile, tasks: _Tasks) -> None:
        self.lamp, self.tasks = lamp, tasks
        self.inputs = Inputs(lamp, profile)
        self.start_c = self.inputs.ambient_c.copy()
        self.blown = any(link.airflow for link in lamp.links)
        self.configurations: list[tuple[float, Mapping[str, float]]] = []
        self.known: dict[tuple[float, frozenset[tuple[str, float]]], int] = {}
        self.requests_q15 = self.asked_q15 = (0,) * len(lamp.channels)
        self._configure()

    def reach(self, at_ns: int, index: int | None = None) -> None:
        """Bring the inputs to an instant, that of an index unless it is the end, and let happen
        there what does."""
        tasks, at_s = self.tasks, at_ns / NANOSECONDS
        if at_ns:
            self.inputs.move(at_s)
        if index is None:
            return
        jumps, controls = tasks.jumps[index], tasks.controls[index]
        if jumps:
            self.inputs.jump(at_s)
        if jumps or (controls and self.inputs.airflow_moves):
            self._configure()
        if jumps or tasks.effects[index]:
            self.asked_q15 = self.requests_q15
        if controls:
            requests = self.inputs.requests.tolist()
            self.requests_q15 = tuple(round(request * ONE_Q15) for request in requests)
            if tasks.at_once:
                self.asked_q15 = self.requests_q15

    def _configure(self) -> None:
        degraded = self.inputs.condition.degraded
        self.airflow = self.inputs.airflow
        key = (self.airflow if self.blown else 1.0, frozenset(degraded.items()))
        self.configuration = self.known.setdefault(key, len(self.known))
        if self.configuration == len(self.configurations):
            self.configurations.append((self.airflow, dict(degraded)))

    def now(self) -> tuple[Any, ...]:
        """Ambients, airflow and requests at this instant."""
        inputs = self.inputs
        return inputs.ambient_c.tolist(), [inputs.airflow], inputs.requests.tolist()

    def acting(self, middle_s: float) -> tuple[Any, ...]:
        """A row of ``Acting`` for the interval from here that has its middle there."""
        condition, largest = self.inputs.condition, float(self.inputs.requests.max(initial=0.0))
        self.inputs.move(middle_s)
        events = [condition.sensors.get(name) for name in self.lamp.sensors]
        return (
            tuple(self.inputs.ambient_c.tolist()),
            (self.airflow,),
            self.configuration,
            self.requests_q15,
            self.asked_q15,
            largest,
            tuple(name in condition.stuck_on for name in self.lamp.channels),
            tuple(_wires(event) for event in events),
            tuple(_offset_k(event) for event in events),
        )


def _wires(event: Event | None) -> int:
    return HEALTHY if event is None else WIRES.get(event.kind, HEALTHY)


def _offset_k(event: Event | None) -> float:
    return 0.0 if event is None else event.offset_k or 0.0
