"""What a search found: the trade-offs, the settings to take, and how much hangs on each."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from derate.study.tune_space import LOGARITHMIC, NUDGES, Dial, Settings, Space, written
from derate.study.tune_trial import Figures, Goal, OutOfTimeError, Trials

FLAT: Final = 0.002
"""Light within this share of all that was asked for is as good as the most."""
KEPT: Final = 0.0005
"""The lamp keeps a setting of its own where another one gives no more than this."""
STEPS: Final = (-2, -1, 0, 1, 2)
"""How often a setting is nudged to see what hangs on it."""
FACED_LAST: Final = ("temperature",)


@dataclass(frozen=True)
class Tried:
    """Settings and what came of them."""

    settings: Settings
    figures: Figures


@dataclass(frozen=True)
class Swing:
    """One setting moved around the recommended ones, all others as they are.

    ``said``: what stands in the file, ``figures``: what comes of it, ``at``: which of them is the
    recommended one.
    """

    key: str
    said: tuple[str | int, ...]
    figures: tuple[Figures, ...]
    at: int

    @property
    def light(self) -> float:
        """The most light lost by moving it one step either way, as a share of what is asked [-]."""
        here = self.figures[self.at].light
        return max((here - one.light for one in self._beside), default=0.0)

    @property
    def margin_k(self) -> float:
        """The most margin lost by moving it one step either way [K]."""
        here = self.figures[self.at].margin_k
        return max((here - one.margin_k for one in self._beside), default=0.0)

    @property
    def _beside(self) -> tuple[Figures, ...]:
        return self.figures[max(0, self.at - 1) : self.at + 2]


def front(
    tried: Mapping[Settings, Figures], other: Callable[[Figures], float], *, least: bool
) -> tuple[Tried, ...]:
    """The settings that no others surpass in both light and ``other``, the most light first.

    ``least``: whether little of the other figure is good.
    """
    sign = 1.0 if least else -1.0
    order = sorted(
        (Tried(settings, figures) for settings, figures in tried.items()),
        key=lambda one: (-one.figures.light, sign * other(one.figures)),
    )
    found: list[Tried] = []
    best = math.inf
    for one in order:
        value = sign * other(one.figures)
        if value < best and math.isfinite(value):
            found.append(one)
            best = value
    return tuple(found)


def thinned(along: Sequence[Tried], most: int) -> tuple[Tried, ...]:
    """A few of a front, its ends among them, evenly spread over its light."""
    if len(along) <= most:
        return tuple(along)
    light = np.array([one.figures.light for one in along])
    wanted = np.linspace(light[0], light[-1], most)
    places = dict.fromkeys(int(np.argmin(np.abs(light - one))) for one in wanted)
    return tuple(along[i] for i in places)


def recommended(tried: Mapping[Settings, Figures], goal: Goal) -> Settings | None:
    """Of the settings that give what the goal asks for, about the most light, the most margin.

    Where none gives it all, those that lack least; None where none keeps the limits.
    """
    held = {s: f for s, f in tried.items() if f.margin_k >= goal.guard_k and f.seen}
    if not held:
        return None
    least = min(goal.lacking(figures) for figures in held.values())
    good = {s: f for s, f in held.items() if goal.lacking(f) <= least}
    most = max(figures.light for figures in good.values())
    flat = {s: f for s, f in good.items() if f.light >= most - FLAT}
    return max(flat, key=lambda settings: flat[settings].margin_k)


def tidied(space: Space, trials: Trials, goal: Goal, settings: Settings) -> Settings:
    """The same with what the lamp has now wherever another value gains nothing to speak of.

    Out of time, the rest stays as it is.
    """
    (before,) = trials.looked([settings])
    for dial in sorted(space.dials, key=lambda dial: dial.sort in FACED_LAST):
        present = space.present[dial.key]
        if present is None:
            continue
        other = replaced(settings, dial.key, written(dial.sort, present, space.period_s))
        if other == settings or trials.made(other) is None:
            continue
        try:
            (figures,) = trials.looked([other])
        except OutOfTimeError:
            break
        if goal.lacking(figures) <= goal.lacking(before) and figures.light >= before.light - KEPT:
            settings = other
    return settings


def swings(space: Space, trials: Trials, settings: Settings) -> tuple[Swing, ...]:
    """Every setting moved a little both ways, all together in one run; none when out of time."""
    moved: dict[str, list[tuple[int, Settings]]] = {}
    for dial in space.dials:
        several = [
            (step, settings if step == 0 else nudged(space, settings, dial, step, within=False))
            for step in STEPS
        ]
        distinct = {one: step for step, one in reversed(several) if trials.made(one) is not None}
        distinct[settings] = 0
        moved[dial.key] = sorted((step, one) for one, step in distinct.items())
    try:
        trials.figures([one for several in moved.values() for _, one in several])
        trials.looked([one for several in moved.values() for step, one in several if abs(step) < 2])
    except OutOfTimeError:
        return ()
    return tuple(
        Swing(
            key,
            tuple(dict(one)[key] for _, one in several),
            tuple(trials.figures([one for _, one in several])),
            [step for step, _ in several].index(0),
        )
        for key, several in moved.items()
    )


def nudged(
    space: Space, settings: Settings, dial: Dial, step: float, *, within: bool = True
) -> Settings:
    """Settings with one of them moved by some steps of its sort; never below zero.

    ``within``: nor out of the bounds that are searched.
    """
    nudge = NUDGES[dial.sort]
    value = space.values(settings)[dial.key] * nudge.factor**step
    value += (
        round(step) or math.copysign(1.0, step) if dial.sort == "whole" else step
    ) * nudge.step
    if dial.sort not in ("temperature", *LOGARITHMIC):
        value = max(0.0, value)
    if within and dial.above is None and dial.share_of is None:
        value = min(max(value, dial.low), dial.high)
    if within and dial.sort == "share":
        value = max(value, space.least_light)
    said = written(dial.sort, value, space.period_s)
    return replaced(settings, dial.key, said)


def replaced(settings: Settings, key: str, said: str | int) -> Settings:
    """Settings with another word at one key."""
    return tuple((k, said if k == key else old) for k, old in settings)
