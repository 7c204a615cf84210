"""A profile as the batch clock goes through it, worked out for all instants at once.

The instants are those of the timeline: every run of its tasks and every jump of the profile, and
the world's values are those that its ``Inputs`` have at them, to the last bit. Tasks that jitter do
so by the numbers of one unit, whose course it is.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.loop.inputs import Inputs, in_steps
from derate.loop.instant import NANOSECONDS, nanoseconds
from derate.loop.schedule import STUCK, Acting, Schedule
from derate.loop.timeline import JITTER_CONTROL, JITTER_CONVERT, instants, next_update
from derate.sensing.chain import pwm_phases
from derate.sensing.circuit import HEALTHY, OPEN, SHORT
from derate.sensing.noise import uniform

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Marks = NDArray[np.bool_]

WIRES = {"sensor open": OPEN, "sensor short": SHORT, "sensor stuck": STUCK}


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
    """The course of a profile; the same for all lamps that differ in numbers only.

    ``seed`` and ``unit`` count where the tasks jitter.
    """
    tasks = _Tasks(lamp, profile, seed, unit)
    world = _World(lamp, profile, tasks)
    time_s = tasks.edges_ns / NANOSECONDS
    row, acting = _rows(world.acting(tasks))
    now = world.ambient_c, world.airflow[:, None], world.requests
    schedule = Schedule(
        np.diff(tasks.edges_ns) / NANOSECONDS,
        row,
        tasks.jumps | tasks.effects,
        tasks.converts,
        tasks.controls,
        _still(tasks.controls, now),
        pwm_phases(lamp.driver, time_s[:-1]),
        acting,
    )
    return Course(schedule, world.configurations, world.start_c, time_s, *now)


class _Tasks:
    """What happens at which of the K instants (K marks each); ``edges_ns`` (K + 1) with the end.

    ``effects``: the update instants at which commands take effect; none where they do at once.
    """

    def __init__(self, lamp: Lamp, profile: Profile, seed: int, unit: int) -> None:
        timing, end_ns = lamp.timing, nanoseconds(profile.duration_s)
        self.at_once = timing.update_period_s == 0.0

        def runs(period_s: float, phase_s: float, jitter_s: float, use: int) -> Whole:
            period_ns, phase_ns = nanoseconds(period_s), nanoseconds(phase_s)
            at_ns = np.arange(phase_ns, max(phase_ns, end_ns), period_ns)
            if jitter_s:
                late = [uniform(seed, unit, tick, use) for tick in range(1, len(at_ns) + 1)]
                at_ns += np.rint(jitter_s * np.array(late) * NANOSECONDS).astype(np.int64)
            return at_ns[: np.argmax(at_ns >= end_ns)] if (at_ns >= end_ns).any() else at_ns

        jumps = np.array(instants(profile, end_ns), np.int64)
        converts = runs(
            timing.adc_period_s, timing.adc_phase_s, timing.adc_jitter_s, JITTER_CONVERT
        )
        controls = runs(
            timing.control_period_s, timing.control_phase_s, timing.control_jitter_s, JITTER_CONTROL
        )
        updates: Any = next_update  # of one instant or of an array of them
        effects = controls[:0] if self.at_once else updates(timing, controls)
        effects = effects[effects < end_ns]
        at_ns = np.unique(np.concatenate([[0], jumps, effects, converts, controls]))
        self.edges_ns: Whole = np.append(at_ns, end_ns)
        self.jumps, self.effects, self.converts, self.controls = (
            _marks(at_ns, some) for some in (jumps, effects, converts, controls)
        )


def _marks(at_ns: Whole, some_ns: Whole) -> Marks:
    """Which of the instants are among some of them."""
    found = np.zeros(len(at_ns), bool)
    found[np.searchsorted(at_ns, some_ns)] = True
    return found


def _last(marks: Marks, *, before: bool = False) -> Whole:
    """For each instant the last one marked up to it, or before it; -1 where there is none."""
    at = np.maximum.accumulate(np.where(marks, np.arange(len(marks)), -1))
    return np.concatenate([[-1], at[:-1]]) if before else at


class _World:
    """The profile's inputs at every edge (K + 1), and the configurations of the links.

    Whatever jumps is taken from ``Inputs`` there, and holds until the next jump; what goes along
    a line is then put in.
    """

    def __init__(self, lamp: Lamp, profile: Profile, tasks: _Tasks) -> None:
        self.lamp, self.profile = lamp, profile
        inputs = Inputs(lamp, profile)
        self.start_c = inputs.ambient_c.copy()
        turns = np.append(0, np.flatnonzero(tasks.jumps))
        held, self.conditions = [], []
        for turn in turns:
            if turn:
                inputs.jump(tasks.edges_ns[turn] / NANOSECONDS)
            held.append((inputs.ambient_c.copy(), inputs.requests.copy(), inputs.airflow))
            self.conditions.append(inputs.condition)
        self.part = np.append(np.cumsum(tasks.jumps), len(turns) - 1)
        """Which of the conditions holds at each edge."""
        columns = zip(*held, strict=True)
        self.ambient_c, self.requests, self.airflow = (np.array(c)[self.part] for c in columns)
        self.moving = np.ones(len(tasks.edges_ns), bool)
        self.moving[turns] = False
        time_s = tasks.edges_ns / NANOSECONDS
        self._put_lines(time_s[self.moving], self.ambient_c, self.moving)
        self._put_requests(time_s)
        if inputs.airflow_moves:
            blows = [c.airflow for c in self.conditions]
            steps = [in_steps(float(a)) for a in profile.airflow.values(time_s[self.moving])]
            self.airflow[self.moving] = steps * np.array(blows)[self.part[self.moving]]
        configured = tasks.jumps | (tasks.controls & inputs.airflow_moves)
        configured[0] = True
        self.blowing = self.airflow[_last(configured)]
        self.configurations, self.configuration = self._configured(configured)

    def _put_lines(self, time_s: Array, ambient_c: Array, at: Marks | slice) -> None:
        """Put what goes along lines into ambients (.., M), for these times at some rows."""
        courses = self.profile.ambient_courses(self.lamp.ambients)
        for m, name in enumerate(self.lamp.ambients):
            if courses[name].between == "line":
                ambient_c[at, m] = courses[name].values(time_s)

    def _put_requests(self, time_s: Array) -> None:
        for c, name in enumerate(self.lamp.channels):
            course = self.profile.request.get(name)
            if course is not None and course.between == "line":
                self.requests[self.moving, c] = course.values(time_s[self.moving])

    def _configured(
        self, configured: Marks
    ) -> tuple[tuple[tuple[float, Mapping[str, float]], ...], Whole]:
        """Airflow and degraded links of each configuration, and which one is in force (K)."""
        blown = any(link.airflow for link in self.lamp.links)
        known: dict[tuple[float, frozenset[tuple[str, float]]], int] = {}
        found: list[tuple[float, Mapping[str, float]]] = []
        numbers = np.zeros(len(configured), np.int64)
        for at in np.flatnonzero(configured):
            airflow, degraded = float(self.airflow[at]), self.conditions[self.part[at]].degraded
            key = (airflow if blown else 1.0, frozenset(degraded.items()))
            if key not in known:
                known[key] = len(found)
                found.append((airflow, dict(degraded)))
            numbers[at] = known[key]
        return tuple(found), numbers[_last(configured)]

    def acting(self, tasks: _Tasks) -> Acting:
        """What acts in each of the K intervals."""
        part, edges_ns = self.part[:-1], tasks.edges_ns
        ambient_c = self.ambient_c[:-1].copy()
        self._put_lines((edges_ns[:-1] + edges_ns[1:]) / 2 / NANOSECONDS, ambient_c, slice(None))
        requests = self.requests[:-1]
        told_q15 = np.vstack([np.rint(requests * ONE_Q15), np.zeros(requests.shape[1])])
        told_q15 = told_q15.astype(np.int64)  # the last one is that before the first control
        requests_q15 = asked_q15 = told_q15[_last(tasks.controls)]
        if not tasks.at_once:
            told = np.append(_last(tasks.controls, before=True), -1)
            asked_q15 = told_q15[told[_last(tasks.jumps | tasks.effects)]]
        conditions, lamp = self.conditions, self.lamp
        events = [[c.sensors.get(name) for name in lamp.sensors] for c in conditions]
        stuck_on = [[name in c.stuck_on for name in lamp.channels] for c in conditions]
        return Acting(
            ambient_c,
            self.blowing[:, None],
            self.configuration,
            requests_q15,
            asked_q15,
            requests.max(axis=1, initial=0.0),
            np.array(stuck_on, bool)[part],
            np.array([[_wires(e) for e in some] for some in events], np.int64)[part],
            np.array([[_offset_k(e) for e in some] for some in events])[part],
        )


def _rows(acting: Acting) -> tuple[Whole, Acting]:
    """Rows that differ from the one before, and which of them is in force in each interval."""
    changes = np.zeros(len(acting.request), bool)
    changes[0] = True
    for column in acting:
        differs = column[1:] != column[:-1]
        changes[1:] |= differs if differs.ndim == 1 else differs.any(axis=1)
    kept: Any = [column[changes] for column in acting]
    return np.cumsum(changes) - 1, Acting(*kept)


def _still(control: Marks, now: tuple[Array, ...]) -> Marks:
    """Whether no input differs from the one at the control tick before."""
    at = np.flatnonzero(control)
    changed = np.concatenate([np.diff(column[at], axis=0) != 0 for column in now], axis=1)
    still = np.zeros(len(control), dtype=bool)
    still[at[1:]] = ~changed.any(axis=1)
    return still


def _wires(event: Event | None) -> int:
    return HEALTHY if event is None else WIRES.get(event.kind, HEALTHY)


def _offset_k(event: Event | None) -> float:
    return 0.0 if event is None else event.offset_k or 0.0
