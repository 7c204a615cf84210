"""A profile as the batch clock goes through it: instants, and what acts between them.

The instants are those of the timeline with its three tasks at one fixed tick: the control ticks
and every jump of the profile. The world is asked in the timeline's order, by the same ``Inputs``,
so that both clocks give the plant the very same numbers.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.loop.inputs import Inputs
from derate.loop.timeline import NANOSECONDS, instants, nanoseconds
from derate.sensing.chain import pwm_phase
from derate.sensing.circuit import HEALTHY, OPEN, SHORT

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

STUCK = 3
"""State of a sensor that keeps its code, beside those of its wires."""
WIRES = {"sensor open": OPEN, "sensor short": SHORT, "sensor stuck": STUCK}
FIXED_TICK = (
    "timing: found {found}, due the control period as ADC period, no update period, no phase and"
    " no jitter, since the batch clock has one fixed tick; the timeline knows the others"
)


class Acting(NamedTuple):
    """What acts in an interval, one row each: W rows, C channels, M ambients, S sensors.

    ``ambient_c`` (W, M) at mid-interval; ``airflow`` (W, 1); ``configuration`` (W): of the links;
    ``requests_q15`` (W, C) at its beginning; ``request`` (W): the largest [0..1]; ``stuck_on``
    (W, C); ``wires`` and ``offset_k`` (W, S): the sensors' faults.
    """

    ambient_c: Array
    airflow: Array
    configuration: Whole
    requests_q15: Whole
    request: Array
    stuck_on: NDArray[np.bool_]
    wires: Whole
    offset_k: Array


class Schedule(NamedTuple):
    """K intervals: ``dt_s`` (K) long, row ``row`` (K) of ``acting`` in force.

    ``control`` (K): whether the controller runs at the beginning; ``still`` (K): whether no input
    has changed since the control tick before; ``phase`` (K): of the PWM at the beginning [0..1).
    """

    dt_s: Array
    row: Whole
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


def check_timing(lamp: Lamp) -> None:
    """Raises InputError where the tasks of a lamp do not share one fixed tick."""
    timing = lamp.timing
    others = {
        "adc_period": timing.adc_period_s if _differs(timing) else 0.0,
        "update_period": timing.update_period_s,
        "control_phase": timing.control_phase_s,
        "adc_phase": timing.adc_phase_s,
        "control_jitter": timing.control_jitter_s,
        "adc_jitter": timing.adc_jitter_s,
    }
    for name, value_s in others.items():
        if value_s:
            found = f"{name} {value_s:g} s"
            raise InputError(f"{lamp.source or lamp.name}: {FIXED_TICK.format(found=found)}")


def _differs(timing: Any) -> bool:
    return nanoseconds(timing.adc_period_s) != nanoseconds(timing.control_period_s)


def course_of(lamp: Lamp, profile: Profile) -> Course:
    """The schedule of a profile; the same for all lamps that differ in numbers only."""
    check_timing(lamp)
    end_ns, period_ns = nanoseconds(profile.duration_s), nanoseconds(lamp.timing.control_period_s)
    jumps, ticks = set(instants(profile, end_ns)), range(0, end_ns, period_ns)
    at_ns = sorted(jumps.union(ticks))
    world = _World(lamp, profile)
    rows: dict[tuple[Any, ...], int] = {}
    inputs, row, control = [], [], []
    for begin_ns, after_ns in zip(at_ns, [*at_ns[1:], end_ns], strict=True):
        ticks_here = begin_ns % period_ns == 0
        world.reach(begin_ns, jumps=begin_ns in jumps, ticks=ticks_here)
        inputs.append(world.now())
        acting = world.acting((begin_ns + after_ns) / 2 / NANOSECONDS)
        row.append(rows.setdefault(acting, len(rows)))
        control.append(ticks_here)
    world.reach(end_ns, jumps=False, ticks=False)
    inputs.append(world.now())
    now = [np.array(column, dtype=float) for column in zip(*inputs, strict=True)]
    edges = np.array([*at_ns, end_ns])
    schedule = Schedule(
        np.diff(edges) / NANOSECONDS,
        np.array(row),
        np.array(control),
        _still(np.array(control), now),
        np.array([pwm_phase(lamp.driver, ns / NANOSECONDS) for ns in at_ns]),
        _stacked(rows),
    )
    return Course(schedule, tuple(world.configurations), world.start_c,
                  edges / NANOSECONDS, *now)  # fmt: skip


def _still(control: NDArray[np.bool_], now: list[Array]) -> NDArray[np.bool_]:
    """Whether no input differs from the one at the control tick before."""
    at = np.flatnonzero(control)
    changed = np.concatenate([np.diff(column[at], axis=0) != 0 for column in now], axis=1)
    still = np.zeros(len(control), dtype=bool)
    still[at[1:]] = ~changed.any(axis=1)
    return still


def _stacked(rows: Mapping[tuple[Any, ...], int]) -> Acting:
    columns = list(zip(*rows, strict=True))
    kinds = (float, float, np.int64, np.int64, float, bool, np.int64, float)
    return Acting(*(np.array(c, dtype=kind) for c, kind in zip(columns, kinds, strict=True)))


class _World:
    """The profile's inputs on their way, and the configurations of the links met so far."""

    def __init__(self, lamp: Lamp, profile: Profile) -> None:
        self.lamp = lamp
        self.inputs = Inputs(lamp, profile)
        self.start_c = self.inputs.ambient_c.copy()
        self.blown = any(link.airflow for link in lamp.links)
        self.configurations: list[tuple[float, Mapping[str, float]]] = []
        self.known: dict[tuple[float, frozenset[tuple[str, float]]], int] = {}
        self.requests_q15 = (0,) * len(lamp.channels)
        self._configure()

    def reach(self, at_ns: int, *, jumps: bool, ticks: bool) -> None:
        """Bring the inputs to an instant at which the profile jumps, or the controller runs."""
        at_s = at_ns / NANOSECONDS
        if at_ns:
            self.inputs.move(at_s)
        if jumps:
            self.inputs.jump(at_s)
        if jumps or (ticks and self.inputs.airflow_moves):
            self._configure()
        if ticks:
            requests = self.inputs.requests.tolist()
            self.requests_q15 = tuple(round(request * ONE_Q15) for request in requests)

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
            largest,
            tuple(name in condition.stuck_on for name in self.lamp.channels),
            tuple(_wires(event) for event in events),
            tuple(_offset_k(event) for event in events),
        )


def _wires(event: Event | None) -> int:
    return HEALTHY if event is None else WIRES.get(event.kind, HEALTHY)


def _offset_k(event: Event | None) -> float:
    return 0.0 if event is None else event.offset_k or 0.0
