"""What the world does to the lamp at an instant: ambient, airflow, requests and faults."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from derate.lamp.course import Course
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.plant.network import body_of

T = TypeVar("T")

HALF_NANOSECOND_S = 0.5e-9
"""Instants are whole nanoseconds; half of one is safely after a jump, whatever was rounded."""
AIRFLOW_STEPS = 1024
"""An airflow along a line is followed in 1024 steps an octave: within 0.04 % of a conductance."""


@dataclass(frozen=True)
class Condition:
    """The faults present at an instant.

    ``airflow``: factor on the profile's airflow [-]; ``degraded``: link, or node of a sensor's body
    -> resistance factor [-];
    ``stuck_on``: channels driven at full whatever the controller says; ``sensors``: sensor -> the
    event that disturbs it.
    """

    airflow: float = 1.0
    degraded: dict[str, float] = field(default_factory=dict)
    stuck_on: frozenset[str] = frozenset()
    sensors: dict[str, Event] = field(default_factory=dict)


def condition_of(active: Iterable[Event]) -> Condition:
    """The faults of the events that are present; of two on one thing the later one wins."""
    airflow = 1.0
    degraded: dict[str, float] = {}
    stuck_on: set[str] = set()
    sensors: dict[str, Event] = {}
    for event in active:
        if event.kind == "airflow":
            airflow = _given(event.factor)
        elif event.kind == "interface degraded":
            degraded[_given(event.link)] = _given(event.factor)
        elif event.kind == "sensor loose":
            degraded[body_of(_given(event.sensor))] = _given(event.factor)
        elif event.kind == "channel stuck on":
            stuck_on.add(_given(event.channel))
        else:
            sensors[_given(event.sensor)] = event
    return Condition(airflow, degraded, frozenset(stuck_on), sensors)


def _given(value: T | None) -> T:
    """The value that the profile's validation promises for this kind of event."""
    return cast(T, value)


def in_steps(airflow: float) -> float:
    """The airflow factor [-] rounded to the steps in which it is followed along a line."""
    if airflow <= 0.0:
        return 0.0
    return float(2.0 ** (round(math.log2(airflow) * AIRFLOW_STEPS) / AIRFLOW_STEPS))


class Inputs:
    """The profile's values, cheap to ask for again and again as time goes on.

    Courses that hold their value are looked up at their jumps only; those along a line whenever
    the time moves. ``ambient_c`` [degC, one per ambient] and ``requests`` [0..1, one per channel]
    are arrays updated in place.
    """

    def __init__(self, lamp: Lamp, profile: Profile) -> None:
        self.profile = profile
        ambient = profile.ambient_courses(lamp.ambients)
        self._courses: list[tuple[Course[float], NDArray[np.float64], int]] = []
        self.ambient_c = np.zeros(len(lamp.ambients))
        self.requests = np.zeros(len(lamp.channels))
        self._airflow = np.ones(1)
        for i, name in enumerate(lamp.ambients):
            self._courses.append((ambient[name], self.ambient_c, i))
        for i, name in enumerate(lamp.channels):
            if name in profile.request:
                self._courses.append((profile.request[name], self.requests, i))
        self._courses.append((profile.airflow, self._airflow, 0))
        self._lines = [entry for entry in self._courses if entry[0].between == "line"]
        self.condition = Condition()
        self._active: dict[int, Event] = {}
        self._turns = sorted(
            (time_s, number, begins)
            for number, event in enumerate(profile.events)
            for time_s, begins in ((event.at_s, True), (event.until_s, False))
            if time_s is not None
        )[::-1]
        self.jump(0.0)

    @property
    def airflow(self) -> float:
        """Airflow factor [-] with the faults included."""
        airflow = float(self._airflow[0])
        if self.airflow_moves:
            airflow = in_steps(airflow)
        return airflow * self.condition.airflow

    def jump(self, time_s: float) -> None:
        """Take every value anew as it is just after ``time_s``, where something jumps."""
        after_s = time_s + HALF_NANOSECOND_S
        for course, target, index in self._courses:
            target[index] = course.value(after_s)
        while self._turns and self._turns[-1][0] <= after_s:
            _, number, begins = self._turns.pop()
            if begins:
                self._active[number] = self.profile.events[number]
            else:
                self._active.pop(number, None)
        self.condition = condition_of(self._active[number] for number in sorted(self._active))

    def move(self, time_s: float) -> None:
        """Follow the values that vary along a line to ``time_s``."""
        for course, target, index in self._lines:
            target[index] = course.value(time_s)

    @property
    def moves(self) -> bool:
        """Whether any value varies along a line, and so from instant to instant."""
        return bool(self._lines)

    @property
    def airflow_moves(self) -> bool:
        """Whether the airflow varies along a line, so that it is followed at every tick."""
        return self.profile.airflow.between == "line"
