"""Controller: the policy that derates, and the protections around it."""

import itertools
import re
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag, model_validator

from derate.lamp.course import AirflowFactor
from derate.lamp.part import Flag, Name, Part, Text, whole
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Celsius,
    Kelvin,
    PerKelvin,
    PerKelvinSecond,
    PerSecond,
    Second,
    Share,
    check,
)
from derate.lamp.sentence import nearest, shown, wrong

_CLASS = re.compile(r"[A-Za-z_][\w.]*:[A-Za-z_]\w*")
_BOARD = re.compile(r"serial:(?P<port>\S(?:.*\S)?)@(?P<baud>[1-9]\d{2,7})")
BODIES = ("c", "python", "emulated:thumb", "emulated:riscv32", "emulated:avr")


class OpenLoop(Part):
    """No policy: only the cut-off and the fault checks act."""

    kind: Literal["none"] = "none"

    @property
    def thresholds_c(self) -> dict[str, float]:
        """Temperatures at which this policy acts, by key [degC]."""
        return {}


class Level(Part):
    """From ``at_c`` on, no more than ``limit``."""

    at_c: Celsius
    limit: Share


class Steps(Part):
    """Light falls in steps; each is released ``hysteresis_k`` below where it was taken."""

    kind: Literal["steps"] = "steps"
    levels: Annotated[
        tuple[Level, ...], check(lambda levels: len(levels) >= 1, "at least one level")
    ] = Field(description='a list such as [{at = "70 degC", limit = 0.6}]')
    hysteresis_k: Annotated[Kelvin, NOT_NEGATIVE]

    @property
    def thresholds_c(self) -> dict[str, float]:
        """Temperatures at which this policy acts, by key [degC]."""
        return {f"levels.{index}.at": level.at_c for index, level in enumerate(self.levels)}

    @model_validator(mode="after")
    def _agree(self) -> Self:
        for index, (lower, upper) in enumerate(itertools.pairwise(self.levels), start=1):
            gap_k = upper.at_c - lower.at_c
            if gap_k <= 0:
                due = f"more than the {lower.at_c:g} degC of the level before"
                raise wrong(due, key=("levels", index, "at"))
            if upper.limit >= lower.limit:
                due = f"less than the {lower.limit:g} of the level before"
                raise wrong(due, key=("levels", index, "limit"))
            if self.hysteresis_k > gap_k:
                due = f"at most the {gap_k:g} K between two levels"
                raise wrong(due, key=("hysteresis",))
        return self


class Foldback(Part):
    """Light falls on a line from 1 at ``start_c`` to ``floor`` at ``end_c``."""

    kind: Literal["foldback"] = "foldback"
    start_c: Celsius
    end_c: Celsius
    floor: Share = 0.0
    hysteresis_k: Annotated[Kelvin, NOT_NEGATIVE] = 0.0

    @property
    def thresholds_c(self) -> dict[str, float]:
        """Temperatures at which this policy acts, by key [degC]."""
        return {"start": self.start_c, "end": self.end_c}

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.end_c <= self.start_c:
            raise wrong(f"more than start, {self.start_c:g} degC", key=("end",))
        if self.hysteresis_k >= self.end_c - self.start_c:
            due = f"less than the {self.end_c - self.start_c:g} K from start to end"
            raise wrong(due, key=("hysteresis",))
        return self


class Pi(Part):
    """A proportional-integral regulator that holds the reading at ``setpoint_c``."""

    kind: Literal["pi"] = "pi"
    setpoint_c: Celsius
    gain_per_k: Annotated[PerKelvin, NOT_NEGATIVE]
    integral_per_k_s: Annotated[PerKelvinSecond, NOT_NEGATIVE]
    floor: Share = 0.0

    @property
    def thresholds_c(self) -> dict[str, float]:
        """Temperatures at which this policy acts, by key [degC]."""
        return {"setpoint": self.setpoint_c}

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.gain_per_k == 0 and self.integral_per_k_s == 0:
            raise wrong("a gain or an integral above zero", key=("gain",))
        return self


class Predictive(Part):
    """Foldback on what every junction and limited place will be, not on the reading.

    Light falls on a line from 1 to 0 over the last ``band_k`` below each limit less ``guard_k``,
    which is for the tolerances of parts; never below ``floor``. ``watch``: the limited places that
    are estimated besides the junctions; all of them by default. ``airflow`` and ``ambient_c``: the
    least and the largest factor, and the hottest ambient, that estimates are made for; by default
    those of the profiles in the lamp file. ``soft_k``: for what is no junction, light already falls
    on a second line that is so much flatter: slow places are then neared dimmed instead of fully
    lit; 0 for none.
    """

    kind: Literal["predictive"] = "predictive"
    band_k: Annotated[Kelvin, POSITIVE]
    guard_k: Annotated[Kelvin, NOT_NEGATIVE]
    floor: Share = 0.0
    watch: tuple[Text, ...] | None = None
    soft_k: Annotated[Kelvin, NOT_NEGATIVE, check(lambda k: k <= 200.0, "at most 200 K")] = 0.0
    airflow: tuple[AirflowFactor, AirflowFactor] | None = None
    ambient_c: Celsius | None = None

    @property
    def thresholds_c(self) -> dict[str, float]:
        """None: it acts on estimates, not on the reading."""
        return {}


class Custom(Part):
    """A user's own policy class in Python, ``module:Class``, with settings of its own."""

    model_config = ConfigDict(extra="allow")

    kind: Text

    @property
    def settings(self) -> dict[str, Any]:
        """The settings as the file writes them, quantities still as text."""
        return dict(self.model_extra or {})

    @property
    def thresholds_c(self) -> dict[str, float]:
        """Unknown for a class of the user's own."""
        return {}


_KINDS = {
    "none": OpenLoop,
    "steps": Steps,
    "foldback": Foldback,
    "pi": Pi,
    "predictive": Predictive,
}


def _kind(value: Any) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return kind if isinstance(kind, str) and kind in _KINDS else "custom"


def _known_kind(value: Any) -> Any:
    if not isinstance(value, dict):
        if isinstance(value, Part):
            return value
        raise wrong('a table such as {kind = "none"}')
    kind = value.get("kind")
    if not isinstance(kind, str) or not (kind in _KINDS or _CLASS.fullmatch(kind)):
        due = f'one of {nearest(kind, _KINDS)}; or "module:Class" of your own'
        raise wrong(due, found=shown(kind), key=("kind",))
    return value


Policy = Annotated[
    Annotated[OpenLoop, Tag("none")]
    | Annotated[Steps, Tag("steps")]
    | Annotated[Foldback, Tag("foldback")]
    | Annotated[Pi, Tag("pi")]
    | Annotated[Predictive, Tag("predictive")]
    | Annotated[Custom, Tag("custom")],
    Discriminator(_kind),
    BeforeValidator(_known_kind),
]


class Stuck(Part):
    """A sensor is stuck when light went from off to at least ``drive`` and nothing warmed up.

    After ``off_s`` of darkness, ``within_s`` of light must raise the reading by ``rise_k``, if it
    began below ``below_c``. Time below ``drive`` is taken off the time of light.
    """

    drive: Share
    off_s: Second
    within_s: Annotated[Second, POSITIVE]
    rise_k: Annotated[Kelvin, POSITIVE]
    below_c: Celsius


class Sharing(Part):
    """How the channels share the limit: as one and the same share, or by a table made for that.

    ``request``: of the channels, what the table is made for; those that are not named, all by
    default, are asked for full light. ``ambient_c``: in which; by default, for each limit, that in
    which the same share just holds the limits of the lamp.
    """

    way: Literal["same share", "hottest first", "least important first", "hold colour"] = (
        "same share"
    )
    request: dict[Name, Share] = Field(default_factory=dict)
    ambient_c: Celsius | None = None


class SerialPort(NamedTuple):
    """Where a real board is: the name of a port and its baud rate [1/s]."""

    port: str
    baud: int


def _known_body(value: Any) -> Any:
    if not isinstance(value, str) or not (value in BODIES or _BOARD.fullmatch(value)):
        listed = ", ".join(f'"{body}"' for body in BODIES)
        raise wrong(f'one of {listed}, or a real board, "serial:PORT@BAUD"', found=shown(value))
    return value


class Controller(Part):
    """Policy, cut-off, filter, ramps and fault checks; ``body`` is what runs them.

    ``pace``: whether a real board gets a step as soon as it has answered the last, or each at its
    time by the clock on the wall. ``c``: C files, relative to the lamp file, that take the place of
    the reference controller; the settings are generated for them all the same.
    """

    body: Annotated[str, BeforeValidator(_known_body)] = "c"
    pace: Literal["stepped", "real time"] = "stepped"
    c: tuple[Text, ...] | None = Field(
        default=None, description='C files of your own such as ["../fw/thermal.c"]'
    )
    policy: Policy = Field(description='a table such as {kind = "none"}')
    cutoff_c: Celsius
    safe_duty: Share
    filter_shift: Annotated[int, whole(0, 8)] = 0
    attack_per_s: Annotated[PerSecond, POSITIVE] | None = None
    hold_s: Second = 0.0
    release_per_s: Annotated[PerSecond, POSITIVE] | None = None
    clear_after_s: Second = 2.0
    latch: Flag = False
    max_jump_k: Annotated[Kelvin, POSITIVE] | None = None
    disagreement_k: Annotated[Kelvin, POSITIVE] | None = None
    stuck: Stuck | None = None
    sharing: Sharing = Sharing()

    @property
    def serial_port(self) -> SerialPort | None:
        """Where the real board is that runs the controller, None if none does."""
        found = _BOARD.fullmatch(self.body)
        return None if found is None else SerialPort(found["port"], int(found["baud"]))

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.pace == "real time" and self.serial_port is None:
            raise wrong('"stepped", because only a real board has a time of its own', key=("pace",))
        if self.c is not None and (not self.c or self.body == "python"):
            due = "at least one C file" if not self.c else 'a body in C, not "python"'
            raise wrong(due, key=("c",))
        if isinstance(self.policy, Custom) and self.body != "python":
            raise wrong('"python", because the policy is a Python class', key=("body",))
        first = min(self.policy.thresholds_c.items(), key=lambda item: item[1], default=None)
        if first and self.cutoff_c <= first[1]:
            raise wrong(f"more than the {first[1]:g} degC of policy.{first[0]}", key=("cutoff",))
        return self
