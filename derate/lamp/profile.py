"""Mission profile: ambient, airflow, request and faults over time."""

from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import Discriminator, Field, PrivateAttr, Tag, model_validator

from derate.lamp.course import (
    COURSE_KEYS,
    MOST_AIRFLOW,
    Course,
    FactorCourse,
    ShareCourse,
    TemperatureCourse,
)
from derate.lamp.part import Name, Part, Text
from derate.lamp.quantities import NOT_NEGATIVE, POSITIVE, Celsius, Kelvin, Ratio, Second
from derate.lamp.sentence import Key, wrong

EventKind = Literal[
    "sensor open",
    "sensor short",
    "sensor stuck",
    "sensor offset",
    "sensor loose",
    "airflow",
    "interface degraded",
    "channel stuck on",
]
_NEEDS: dict[str, tuple[str, ...]] = {
    "sensor open": ("sensor",),
    "sensor short": ("sensor",),
    "sensor stuck": ("sensor",),
    "sensor offset": ("sensor", "offset"),
    "sensor loose": ("sensor", "factor"),
    "airflow": ("factor",),
    "interface degraded": ("link", "factor"),
    "channel stuck on": ("channel",),
}
_FACTORS = {
    "airflow": (0.0, MOST_AIRFLOW),
    "interface degraded": (1e-3, 1e6),
    "sensor loose": (1.0, 1e6),
}
"""What factors of events may be."""
_MOST_TURNS = 1_000_000  # of one course; each is an instant at which a run must stop and look


class _Need(NamedTuple):
    key: str
    given: object
    due: str


class Event(Part):
    """Something that goes wrong from ``at_s`` to ``until_s``, or to the end of the profile.

    ``factor`` multiplies the profile's airflow ("airflow"; 0 is a stopped fan), the resistance of a
    link or of the board's interface ("interface degraded"), or that between a sensor's body and its
    place ("sensor loose"; 1000 is a thermistor that has come off).
    """

    at_s: Second
    until_s: Second | None = None
    kind: EventKind = Field(description='what happens, such as "sensor open"')
    sensor: Name | None = None
    offset_k: Kelvin | None = None
    factor: Annotated[Ratio, NOT_NEGATIVE] | None = None
    link: Name | None = None
    channel: Name | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.until_s is not None and self.until_s <= self.at_s:
            raise wrong(f"a time after at, {self.at_s:g} s", key=("until",))
        for need in (
            _Need("sensor", self.sensor, "the name of a sensor"),
            _Need("offset", self.offset_k, 'a temperature difference such as "5 K"'),
            _Need("factor", self.factor, "a factor such as 0.5"),
            _Need("link", self.link, "the name of a link"),
            _Need("channel", self.channel, "the name of a channel"),
        ):
            due_here = need.key in _NEEDS[self.kind]
            if due_here and need.given is None:
                due = f'{need.due} for the event "{self.kind}"'
                raise wrong(due, found="nothing", key=(need.key,))
            if not due_here and need.given is not None:
                raise wrong(f'no such key for the event "{self.kind}"', key=(need.key,))
        if self.kind in _FACTORS and self.factor is not None:
            least, most = _FACTORS[self.kind]
            if not least <= self.factor <= most:
                raise wrong(f"a factor from {least:g} to {most:g}", key=("factor",))
        return self


def _one_or_each(value: Any) -> str:
    return "each" if isinstance(value, dict) and not value.keys() & COURSE_KEYS else "one"


class Profile(Part):
    """What one lamp lives through; a channel without request stays dark."""

    about: Text = ""
    duration_s: Annotated[Second, POSITIVE]
    ambient: Annotated[
        Annotated[TemperatureCourse, Tag("one")]
        | Annotated[dict[Name, TemperatureCourse], Tag("each")],
        Discriminator(_one_or_each),
    ] = Field(description='a temperature such as "25 degC", or a course of temperatures')
    airflow: FactorCourse = Field(default_factory=lambda: FactorCourse.model_validate(1.0))
    request: dict[Name, ShareCourse] = Field(default_factory=dict)
    events: tuple[Event, ...] = ()
    start_c: Celsius | None = None

    _text: str = PrivateAttr(default="")

    @property
    def text(self) -> str:
        """The profile file as it was read, empty for a profile that is not from its own file."""
        return self._text

    @model_validator(mode="after")
    def _agree(self) -> Self:
        for index, event in enumerate(self.events):
            for key, time_s in (("at", event.at_s), ("until", event.until_s)):
                if time_s is not None and time_s > self.duration_s:
                    due = f"a time within the duration, {self.duration_s:g} s"
                    raise wrong(due, key=("events", index, key))
        for place, course in self._courses():
            turns = len(course.at_s) * self.duration_s / (course.every_s or self.duration_s)
            if turns > _MOST_TURNS:
                due = f"at most {_MOST_TURNS} turns of the course in {self.duration_s:g} s"
                raise wrong(due, found=f"{turns:.3g} turns", key=(*place, "every"))
        return self

    def _courses(self) -> Iterator[tuple[Key, Course[float]]]:
        """Every course with its key."""
        if isinstance(self.ambient, dict):
            yield from ((("ambient", name), course) for name, course in self.ambient.items())
        else:
            yield ("ambient",), self.ambient
        yield ("airflow",), self.airflow
        yield from ((("request", name), course) for name, course in self.request.items())

    def ambient_courses(self, ambients: Iterable[str]) -> dict[str, TemperatureCourse]:
        """The temperature of each ambient over time [degC]; one course serves them all."""
        each = self.ambient
        return {name: each[name] if isinstance(each, dict) else each for name in ambients}

    def jumps(self) -> tuple[float, ...]:
        """Times [s] after 0 and before the end at which an input jumps or an event turns."""
        times = {at_s for _, course in self._courses() for at_s in course.jumps(self.duration_s)}
        times |= {event.at_s for event in self.events}
        times |= {event.until_s for event in self.events if event.until_s is not None}
        return tuple(sorted(at_s for at_s in times if 0 < at_s < self.duration_s))

    @property
    def least_airflow(self) -> float:
        """The smallest airflow factor this profile reaches, its events included."""
        stops = [event.factor for event in self.events if event.kind == "airflow"]
        return min(self.airflow.knots) * min([1.0, *(factor or 0.0 for factor in stops)])

    @property
    def most_airflow(self) -> float:
        """The largest airflow factor this profile reaches, its events included."""
        gusts = [event.factor for event in self.events if event.kind == "airflow"]
        return max(self.airflow.knots) * max([1.0, *(factor or 0.0 for factor in gusts)])

    @property
    def ambients_c(self) -> tuple[float, ...]:
        """Every temperature that an ambient of this profile turns at [degC]."""
        courses = self.ambient.values() if isinstance(self.ambient, dict) else (self.ambient,)
        return tuple(value_c for course in courses for value_c in course.knots)
