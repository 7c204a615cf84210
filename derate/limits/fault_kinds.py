"""The faults that are tried on a lamp, and the moments at which each of them happens.

From the fault on the lamp stands in the hottest and stillest air of its file with everything asked
for at full, so that a fault that does harm has the time and the heat to do it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.surroundings import Surroundings
from derate.plant.plant import Plant

Moment = Literal["cold start", "steady", "foldback", "while off"]
MOMENTS: Final[tuple[Moment, ...]] = ("cold start", "steady", "foldback", "while off")
"""At power-up; warmed through in cool air and wind; while light is held back; shortly before light
comes back on a hot lamp."""

LOW_K: Final = 8.0
"""A thermistor that reads so much too low is within what many jump checks believe; of two that are
compared, it is so much beyond what is believed."""
JUMP_K: Final = 30.0
BEYOND_K: Final = 10.0
"""A jump is larger than the check believes by this."""
LOOSE: Final = 1000.0
"""Factor on a thermistor's resistance to its place when it has come off."""
SETTLED: Final = 2.0
FOLLOWED: Final = 3.0
"""Slowest time constants before the fault, and after it."""
SHORTEST_S: Final = 60.0
LONGEST_S: Final = 3000.0
OFF_BEFORE_S: Final = 30.0
OFF_AFTER_S: Final = 30.0
"""Darkness before the fault and until light is asked for again."""


@dataclass(frozen=True)
class Fault:
    """A fault in words, the event that it is in a profile, and what to expect of control.

    ``saved``: whether thermal control ought to hold every limit, but at the moments of ``but``;
    ``why``: if not, why it cannot, and if so, which setting of the controller is made for it.
    """

    name: str
    event: dict[str, Any] | None
    saved: bool
    why: str = ""
    but: frozenset[Moment] = frozenset()

    def ought(self, moment: Moment) -> bool:
        """Whether thermal control ought to hold every limit."""
        return self.saved and moment not in self.but


@dataclass(frozen=True)
class Mission:
    """A profile in which the fault happens at ``at_s`` [s]."""

    profile: Profile
    at_s: float


NONE = Fault("no fault", None, saved=True)


def faults_of(lamp: Lamp, around: Surroundings) -> tuple[Fault, ...]:
    """Every fault that this lamp can have; the first is none at all."""
    return (NONE, *_of_sensors(lamp), *_of_cooling(around), *_of_channels(lamp))


def _of_sensors(lamp: Lamp) -> Iterator[Fault]:
    controller = lamp.controller
    checked = len(lamp.sensors) > 1 and controller.disagreement_k is not None
    for name in lamp.sensors:
        of = f"{name} " if len(lamp.sensors) > 1 else "thermistor "
        event: dict[str, Any] = {"sensor": name}
        yield Fault(f"{of}open", event | {"kind": "sensor open"}, saved=True)
        yield Fault(f"{of}short", event | {"kind": "sensor short"}, saved=True)
        yield Fault(
            f"{of}stuck",
            event | {"kind": "sensor stuck"},
            saved=True,
            why="a table [controller.stuck] is made for it; it sees one when light comes on after "
            "darkness, and not while light is on",
            but=frozenset() if checked else frozenset({"steady", "foldback"}),
        )
        jump_k = (controller.max_jump_k or JUMP_K - BEYOND_K) + BEYOND_K
        yield Fault(
            f"{of}jumps {jump_k:g} K low",
            event | {"kind": "sensor offset", "offset": -jump_k},
            saved=True,
            why="controller.max_jump is made for it, with latch, and a disagreement of two sensors",
            but=frozenset() if checked else frozenset({"cold start"}),
        )
        low_k = LOW_K if controller.disagreement_k is None else controller.disagreement_k + LOW_K
        yield Fault(
            f"{of}{low_k:g} K low",
            event | {"kind": "sensor offset", "offset": -low_k},
            saved=checked,
            why="one thermistor cannot be told from another temperature; two that disagree can",
        )
        yield Fault(
            f"{of}comes loose",
            event | {"kind": "sensor loose", "factor": LOOSE},
            saved=checked,
            why="the firmware reads air or the past and sees nothing wrong",
        )


def _of_cooling(around: Surroundings) -> Iterator[Fault]:
    if around.stopped < around.least_airflow:
        yield Fault("airflow stops", {"kind": "airflow", "factor": 0.0}, saved=True)
    if around.joint is not None:
        factor = around.missing[around.joint]
        event = {"kind": "interface degraded", "link": around.joint, "factor": factor}
        yield Fault("heat sink missing", event, saved=True)


def _of_channels(lamp: Lamp) -> Iterator[Fault]:
    for name in lamp.channels:
        event = {"kind": "channel stuck on", "channel": name}
        why = "the driver no longer obeys"
        yield Fault(f"{name} stuck on", event, saved=False, why=why)


class Missions:
    """The missions of a lamp, as long as its slowest time constants ask for."""

    def __init__(self, lamp: Lamp, around: Surroundings) -> None:
        self.lamp, self.around = lamp, around
        plant = Plant(lamp)
        self.settle_s = self._span_s(plant, around.least_airflow, {}, SETTLED)
        self.settle_windy_s = self._span_s(plant, around.most_airflow, {}, SETTLED)
        self.after_s = self._span_s(plant, around.stopped, around.missing, FOLLOWED)

    @staticmethod
    def _span_s(plant: Plant, airflow: float, degraded: dict[str, float], many: float) -> float:
        plant.configure(airflow, degraded)
        return float(round(min(max(many * plant.slowest_s, SHORTEST_S), LONGEST_S)))

    def at(self, moment: Moment, fault: Fault) -> Mission:
        """The mission in which a fault happens at a moment."""
        around = self.around
        match moment:
            case "cold start":
                return self._of(fault, 0.0, around.hottest_c, around.least_airflow)
            case "steady":
                return self._of(fault, self.settle_windy_s, around.coldest_c, around.most_airflow)
            case "foldback":
                return self._of(fault, self.settle_s, around.hottest_c, around.least_airflow)
            case "while off":
                dark = (self.settle_s, self.settle_s + OFF_BEFORE_S + OFF_AFTER_S)
                at_s = self.settle_s + OFF_BEFORE_S
                return self._of(fault, at_s, around.hottest_c, around.least_airflow, dark)

    def from_start(self, fault: Fault, start_c: float) -> Mission:
        """The mission in which a lamp of one temperature [degC] is switched on with a fault."""
        around = self.around
        mission = self._of(fault, 0.0, around.hottest_c, around.least_airflow)
        return Mission(mission.profile.model_copy(update={"start_c": start_c}), 0.0)

    def _of(
        self,
        fault: Fault,
        at_s: float,
        ambient_c: float,
        airflow: float,
        dark: tuple[float, float] | None = None,
    ) -> Mission:
        around, turns = self.around, [0.0, at_s] if at_s else [0.0]
        request: Any = 1.0
        if dark is not None:
            request = {"at": [0.0, *dark], "value": [1.0, 0.0, 1.0]}
        raw = {
            "duration": at_s + self.after_s,
            "ambient": {"at": turns, "value": [ambient_c, around.hottest_c][-len(turns) :]},
            "airflow": {"at": turns, "value": [airflow, around.least_airflow][-len(turns) :]},
            "request": dict.fromkeys(self.lamp.channels, request),
            "events": [] if fault.event is None else [fault.event | {"at": at_s}],
        }
        return Mission(Profile.model_validate(raw), at_s)
