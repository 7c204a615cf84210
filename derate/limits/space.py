"""Where histories are searched: ambients, air and units that a lamp's file spans."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.varying import AMBIENT
from derate.limits.worst.span import airflows_of, of_units
from derate.loop.ready import Specimen
from derate.plant.plant import Plant
from derate.study.tune_units import TunedUnit

ROOM_C = 25.0
"""The ambient of a lamp file without profiles."""
WARMED = 4.0
"""Longest time constants after which a lamp has warmed through: 98 % of the way."""
SHORTEST_S, LONGEST_S = 60.0, 3600.0


@dataclass(frozen=True)
class Space:
    """What is searched.

    ``coldest_c``, ``hottest_c`` [degC]: of each ambient by name; ``airflow``: least and largest
    factor [-]; ``duration_s`` [s]: of the longest histories; ``period_s`` [s]: instants are whole
    control periods; ``slowest_s`` [s]: the longest time constant in the least air; ``faults``:
    kinds of events that may befall the lamp.
    """

    lamp: Lamp
    coldest_c: dict[str, float]
    hottest_c: dict[str, float]
    airflow: tuple[float, float]
    duration_s: float
    period_s: float
    slowest_s: float
    faults: tuple[str, ...] = ()

    @property
    def span_k(self) -> float:
        """By how much all ambients together may be colder than the hottest [K]."""
        return min(self.hottest_c[name] - self.coldest_c[name] for name in self.hottest_c)

    @property
    def channels(self) -> int:
        """How many channels there are."""
        return len(self.lamp.channels)

    def whole(self, time_s: float) -> float:
        """A time rounded to whole control periods, at least one [s]."""
        return round(max(1, round(time_s / self.period_s)) * self.period_s, 9)


@dataclass(frozen=True, eq=False)
class Place:
    """A unit, and by how much its ambients are colder than the hottest of the space [K].

    What tolerances do to ambients and air is in the space, and not in the unit.
    """

    unit: TunedUnit
    colder_k: float = 0.0

    @property
    def nominal(self) -> bool:
        """Whether the unit is the lamp as its file says it."""
        return not self.unit.scores

    @property
    def key(self) -> tuple[str, float]:
        """What tells it from others of the same search."""
        return self.unit.name, self.colder_k

    def specimen(self, lamp: Lamp) -> Specimen:
        """It as the batch clock runs it, with the firmware of ``lamp``."""
        return Specimen(self.unit.number, self.unit.lamp, lamp, -self.colder_k)

    def ambient_c(self, space: Space) -> dict[str, float]:
        """Each ambient [degC]."""
        return {name: hottest_c - self.colder_k for name, hottest_c in space.hottest_c.items()}


def space_of(
    lamp: Lamp,
    *,
    ambient_c: tuple[float, float] | None = None,
    airflow: tuple[float, float] | None = None,
    faults: Sequence[str] = (),
) -> Space:
    """What the profiles of a lamp span with its tolerances, or what is given instead.

    ``ambient_c`` [degC] and ``airflow`` [-]: lowest and highest. Raises InputError where the lowest
    lies above the highest.
    """
    for name, span in (("ambient", ambient_c), ("airflow", airflow)):
        if span is not None and span[0] > span[1]:
            found = f"found {span[0]:g} and {span[1]:g}"
            raise InputError(f"{lamp.name}: {name}: {found}, due the lowest first")
    shift_k = of_units(lamp, AMBIENT)
    coldest_c, hottest_c = {}, {}
    for name in lamp.ambients:
        knots = _ambients_c(lamp, name) or [ROOM_C]
        low_c, high_c = ambient_c or (min(knots) + shift_k[0], max(knots) + shift_k[1])
        coldest_c[name], hottest_c[name] = low_c, high_c
    air = airflow or airflows_of(lamp)
    if not (lamp.surfaces or lamp.board or any(link.airflow for link in lamp.links)):
        air = (air[1], air[1])
    plant = Plant(lamp)
    plant.configure(air[0], {})
    period_s = lamp.timing.control_period_s
    warmed_s = min(max(WARMED * plant.slowest_s, SHORTEST_S), LONGEST_S)
    whole_s = math.ceil(warmed_s / period_s) * period_s
    return Space(lamp, coldest_c, hottest_c, air, whole_s, period_s, plant.slowest_s, tuple(faults))


def _ambients_c(lamp: Lamp, ambient: str) -> list[float]:
    """Every temperature at which this ambient turns in the profiles of the file [degC]."""
    courses = [
        profile.ambient_courses(lamp.ambients)[ambient] for profile in lamp.profiles.values()
    ]
    return [value_c for course in courses for value_c in course.knots]
