"""What can be tuned: settings of a lamp's policy, as a search moves them and as a file says them.

Every value is rounded to what the lamp file says in a few digits (0.1 degC, 0.5 %, three figures of
a rate, whole control periods), each of which the firmware's integers hold
(``derate.firmware.quantise``). A candidate is run from these very words, so that what is tuned is
what is written and what runs.

An end lies above its start and a level above the one before, so these are searched as distances;
limits of levels as shares of the one before.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp import controller
from derate.lamp.lamp import Lamp
from derate.lamp.notation import convert
from derate.lamp.profile import Profile

Array = NDArray[np.float64]
Settings = tuple[tuple[str, str | int], ...]
"""Key paths of the lamp file and what stands there."""

Sort = Literal[
    "temperature", "difference", "share", "rate", "duration", "gain", "integral", "whole"
]
UNITS: dict[Sort, str] = {
    "temperature": "degC",
    "difference": "K",
    "share": "",
    "rate": "1/s",
    "duration": "s",
    "gain": "1/K",
    "integral": "1/(K*s)",
}
LOGARITHMIC = ("rate", "gain", "integral")
OWN: dict[Sort, tuple[float, float]] = {
    "difference": (0.1, 40.0),
    "duration": (0.0, 60.0),
    "rate": (0.001, 5.0),
    "gain": (0.002, 0.5),
    "integral": (1e-5, 0.02),
    "share": (0.0, 1.0),
}
"""Between which values the settings of a policy of the user's own are searched, by their units;
temperatures as ever. A difference must not be taken for a point on a scale, so it comes first."""
POLICY = "controller.policy"
ABOVE_AMBIENT_K, BELOW_CUTOFF_K = 2.0, 1.0
"""Thresholds are searched between the warmest ambient and the cut-off."""
NARROWEST_K, WIDEST_K = 1.0, 40.0
"""From start to end."""
CLOSEST_K, FARTHEST_K = 1.0, 25.0
"""From one level to the next."""
RATIO = (0.3, 0.95)
"""A level's limit as a share of the one before."""
FINEST_SHARE, FINEST_K = 0.005, 0.1


@dataclass(frozen=True)
class Dial:
    """One setting: its key path, its sort, and between which values it is searched.

    ``above``: the setting that the searched value is added to; ``share_of``: the one it is
    multiplied by.
    """

    key: str
    sort: Sort
    low: float
    high: float
    above: str | None = None
    share_of: str | None = None

    @property
    def bounds(self) -> tuple[float, float]:
        """Between which numbers a search moves it; logarithms of what spans decades."""
        if self.sort in LOGARITHMIC:
            return math.log(self.low), math.log(self.high)
        return self.low, self.high

    def value(self, place: float) -> float:
        """What a number of the search stands for."""
        return math.exp(place) if self.sort in LOGARITHMIC else place

    def place(self, value: float) -> float:
        """The number of the search that stands for a value, within the bounds."""
        low, high = self.bounds
        if self.sort in LOGARITHMIC:
            value = math.log(value) if value > 0.0 else low
        return min(max(value, low), high)


class Nudge(NamedTuple):
    """How far a setting is moved to see how much hangs on it: by a step or by a factor."""

    step: float = 0.0
    factor: float = 1.0


NUDGES: dict[Sort, Nudge] = {
    "temperature": Nudge(step=1.0),
    "difference": Nudge(step=0.5),
    "share": Nudge(step=0.05),
    "rate": Nudge(factor=1.5),
    "duration": Nudge(step=2.0),
    "gain": Nudge(factor=1.5),
    "integral": Nudge(factor=1.5),
    "whole": Nudge(step=1.0),
}


@dataclass(frozen=True)
class Space:
    """The settings that are searched.

    ``present``: what the lamp file has at each key, or None; ``hottest_c``: no threshold lies above
    this, which every sensor can read [degC]; ``least_light``: no share lies below this [-].
    """

    dials: tuple[Dial, ...]
    present: Mapping[str, float | None]
    hottest_c: float
    least_light: float
    period_s: float

    @property
    def whole(self) -> list[bool]:
        """Which settings are whole numbers."""
        return [dial.sort == "whole" for dial in self.dials]

    def settings(self, places: Sequence[float] | Array) -> Settings:
        """The settings that the numbers of a search stand for, as the file says them."""
        values: dict[str, float] = {k: v for k, v in self.present.items() if v is not None}
        for dial, place in zip(self.dials, places, strict=True):
            value = dial.value(float(place))
            if dial.above is not None:
                value += values[dial.above]
            if dial.share_of is not None:
                value *= values[dial.share_of]
            if dial.sort == "temperature":
                value = min(value, self.hottest_c)
            if dial.sort == "share":
                value = max(value, self.least_light)
            values[dial.key] = rounded(dial.sort, value, self.period_s)
        room_k = _room_k(values)
        for dial in self.dials:
            if dial.key == f"{POLICY}.hysteresis":
                values[dial.key] = min(values[dial.key], room_k)
        return self.written(values)

    def written(self, values: Mapping[str, float]) -> Settings:
        """The searched settings of some values, as the file says them."""
        return tuple((d.key, written(d.sort, values[d.key], self.period_s)) for d in self.dials)

    def values(self, settings: Settings) -> dict[str, float]:
        """What settings say, in the unit of each, with those that are not searched."""
        found = {key: value for key, value in self.present.items() if value is not None}
        sorts = {dial.key: dial.sort for dial in self.dials}
        return found | {k: read(sorts[k], said) for k, said in settings if k in sorts}

    def places(self, values: Mapping[str, float | None]) -> Array:
        """The numbers of a search that come nearest to some values; None: as quick as it goes."""
        found = []
        for dial in self.dials:
            value = values.get(dial.key)
            if value is None:
                value = dial.high
            elif dial.above is not None:
                value -= values.get(dial.above) or 0.0
            elif dial.share_of is not None:
                value /= values.get(dial.share_of) or 1.0
            found.append(dial.place(value))
        return np.array(found)


def _room_k(values: Mapping[str, float]) -> float:
    """The most hysteresis that thresholds leave room for [K]."""
    if f"{POLICY}.end" in values:
        return values[f"{POLICY}.end"] - values[f"{POLICY}.start"] - FINEST_K
    at_c = [value for key, value in values.items() if key.endswith(".at")]
    return min(np.diff(at_c), default=math.inf) - FINEST_K


def rounded(sort: Sort, value: float, period_s: float) -> float:
    """A value as the few digits of the lamp file hold it."""
    match sort:
        case "temperature" | "difference":
            return round(value, 1)
        case "share":
            return round(round(value / FINEST_SHARE) * FINEST_SHARE, 4)
        case "duration":
            return round(round(value / period_s) * period_s, 9)
        case "whole":
            return float(round(value))
    return float(f"{value:.3g}")


def written(sort: Sort, value: float, period_s: float) -> str | int:
    """A value as the lamp file says it."""
    value = rounded(sort, value, period_s)
    match sort:
        case "temperature":
            return f"{value:.1f} degC"
        case "difference":
            return f"{value:.1f} K"
        case "share":
            return f"{100.0 * value:.4g} %"
        case "duration":
            return f"{value:.9g} s"
        case "rate":
            return f"{100.0 * value:.3g} %/s"
        case "gain":
            return f"{value:.3g} 1/K"
        case "integral":
            return f"{value:.3g} 1/(K*s)"
    return round(value)


def read(sort: Sort, said: str | int) -> float:
    """The value of what the lamp file says."""
    return float(said) if isinstance(said, int) else convert(said, UNITS[sort])


def space_of(
    lamp: Lamp,
    profiles: Iterable[Profile],
    *,
    least_light: float = 0.0,
    keep: Iterable[str] = (),
) -> Space:
    """The settings of the lamp's policy that are to be searched.

    ``least_light``: no floor below this share; none is raised above it and the lamp's own, as it
    heats in places hotter than the profiles too. ``keep``: names such as "floor" of settings that
    stay as they are. Raises InputError for a policy without settings and for a name unknown.
    """
    warmest_c = max(at_c for profile in profiles for at_c in profile.ambients_c)
    chosen = lamp.controller
    high_c = chosen.cutoff_c - BELOW_CUTOFF_K
    low_c = min(warmest_c + ABOVE_AMBIENT_K, high_c - FARTHEST_K)
    dials = [*_of_policy(lamp, low_c, high_c, least_light), *_around()]
    present = {dial.key: _present(lamp, dial) for dial in dials}
    kept = _kept(lamp, dials, keep)
    moved = [_widened(dial, present) for dial in dials if dial.key not in kept]
    moved = [dial for dial in moved if not dial.low == dial.high == present[dial.key]]
    if f"{POLICY}.end" in kept and f"{POLICY}.start" not in kept:
        most_c = (present[f"{POLICY}.end"] or high_c) - NARROWEST_K
        moved = [
            Dial(d.key, d.sort, d.low, most_c) if d.key == f"{POLICY}.start" else d for d in moved
        ]
    hottest_c = min(sensor.thermistor.range_c[1] for sensor in lamp.sensors.values()) - FINEST_K
    return Space(tuple(moved), present, hottest_c, least_light, lamp.timing.control_period_s)


def _of_policy(lamp: Lamp, low_c: float, high_c: float, least_light: float) -> list[Dial]:
    chosen = lamp.controller.policy
    most = max(least_light, getattr(chosen, "floor", 0.0))  # a floor heats hotter places too
    floor = Dial(f"{POLICY}.floor", "share", least_light, most)
    match chosen:
        case controller.Foldback():
            start = f"{POLICY}.start"
            return [
                Dial(start, "temperature", low_c, high_c),
                Dial(f"{POLICY}.end", "temperature", NARROWEST_K, WIDEST_K, above=start),
                floor,
                Dial(f"{POLICY}.hysteresis", "difference", 0.0, 8.0),
            ]
        case controller.Pi():
            return [
                Dial(f"{POLICY}.setpoint", "temperature", low_c, high_c),
                Dial(f"{POLICY}.gain", "gain", 0.002, 0.5),
                Dial(f"{POLICY}.integral", "integral", 1e-5, 0.02),
                floor,
            ]
        case controller.Predictive():
            return [
                Dial(f"{POLICY}.band", "difference", 0.5, 20.0),
                Dial(f"{POLICY}.guard", "difference", 0.0, 20.0),
                *([Dial(f"{POLICY}.soft", "difference", 0.0, 60.0)] if chosen.soft_k > 0.0 else []),
                floor,
            ]
        case controller.Steps():
            return [*_levels(len(chosen.levels), low_c, high_c, least_light),
                    Dial(f"{POLICY}.hysteresis", "difference", 0.5, FARTHEST_K)]  # fmt: skip
    if isinstance(chosen, controller.Custom) and (own := _of_own(chosen, low_c, high_c)):
        return own
    title = lamp.source or lamp.name
    due = "a policy with settings in the lamp file that are quantities"
    raise InputError(f'{title}: {POLICY}.kind: found "{chosen.kind}", due {due}')


def _of_own(chosen: controller.Custom, low_c: float, high_c: float) -> list[Dial]:
    """The settings of a user's class that are quantities; what is not in the file stays."""
    sorts = {key: _sort_of(said) for key, said in chosen.settings.items()}
    bounds = OWN | {"temperature": (low_c, high_c)}
    return [Dial(f"{POLICY}.{key}", s, *bounds[s]) for key, s in sorts.items() if s is not None]


def _sort_of(said: object) -> Sort | None:
    if isinstance(said, float):
        return "share" if 0.0 <= said <= 1.0 else None
    for sort in (*OWN, "temperature") if isinstance(said, str) else ():
        try:
            convert(str(said), UNITS[sort])
        except ValueError:
            continue
        return sort
    return None


def _levels(count: int, low_c: float, high_c: float, least_light: float) -> list[Dial]:
    found = []
    for i in range(count):
        at, limit = f"{POLICY}.levels.{i}.at", f"{POLICY}.levels.{i}.limit"
        if i == 0:
            found.append(Dial(at, "temperature", low_c, high_c))
            found.append(Dial(limit, "share", max(least_light, RATIO[0]), RATIO[1]))
        else:
            before = f"{POLICY}.levels.{i - 1}"
            found.append(Dial(at, "temperature", CLOSEST_K, FARTHEST_K, above=f"{before}.at"))
            found.append(Dial(limit, "share", *RATIO, share_of=f"{before}.limit"))
    return found


def _around() -> list[Dial]:
    """What stands around every policy."""
    return [
        Dial("controller.attack", "rate", 0.01, 5.0),
        Dial("controller.hold", "duration", 0.0, 60.0),
        Dial("controller.release", "rate", 0.001, 1.0),
        Dial("controller.filter_shift", "whole", 0.0, 8.0),
    ]


def _present(lamp: Lamp, dial: Dial) -> float | None:
    """What the lamp has at the key path of a setting, in its unit."""
    part: object = lamp
    for step in dial.key.split("."):
        if isinstance(part, controller.Custom):
            said = part.settings[step]
            return said if isinstance(said, float) else convert(str(said), UNITS[dial.sort])
        if isinstance(part, tuple):
            part = part[int(step)]
            continue
        fields = type(part).model_fields  # type: ignore[attr-defined]
        suffixed = [name for name in fields if name == step or name.startswith(f"{step}_")]
        part = getattr(part, min(suffixed, key=len))
    return None if part is None else float(part)  # type: ignore[arg-type]


def _kept(lamp: Lamp, dials: Sequence[Dial], keep: Iterable[str]) -> set[str]:
    names = {name_of(dial.key): dial.key for dial in dials}
    found = set()
    for name in keep:
        if name not in names:
            title = lamp.source or lamp.name
            raise InputError(f'{title}: keep: found "{name}", due one of {", ".join(names)}')
        found.add(names[name])
    if len(found) == len(dials):
        raise InputError(f"{lamp.source or lamp.name}: keep: found all settings, due fewer")
    return found


def name_of(key: str) -> str:
    """A setting as people call it: "start", "attack", "levels.0.at"."""
    return key.removeprefix(f"{POLICY}.").removeprefix("controller.")


def _widened(dial: Dial, present: Mapping[str, float | None]) -> Dial:
    """The same with what the lamp has now inside its bounds; distances and shares stay."""
    value = present[dial.key]
    if value is None or dial.above or dial.share_of or (dial.sort in LOGARITHMIC and value <= 0.0):
        return dial
    low, high = min(dial.low, value), max(dial.high, value)
    return Dial(dial.key, dial.sort, dial.low if dial.sort == "share" else low, high)
