"""Settings of a lamp's policy, tuned: the most light with every limit held, and what it costs.

Candidates run with the C in the loop, on the nominal lamp and on the corners of its tolerances,
through every profile whole. A first search on the nominal lamp alone finds where it is worth
looking; there the corners are taken, and the search goes on with them: for the most light, then
for settings with more margin and with smaller steps, which together tell what each costs in light.
"""

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from derate import __version__
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.variation import variations
from derate.loop.batch import Batch
from derate.loop.timeline import Stop, going_on
from derate.study.tune_check import Checked, Drawn, checked, drawn
from derate.study.tune_front import Swing, Tried, front, recommended, swings, tidied
from derate.study.tune_memory import Memory, hash_of
from derate.study.tune_search import AT_ONCE
from derate.study.tune_seeker import CORNERS, Doing, Seeker, found
from derate.study.tune_space import Settings, Space, space_of
from derate.study.tune_trial import Figures, Goal, Trials
from derate.study.tune_units import (
    NOMINAL,
    corner_units,
    drawn_units,
    nominal_unit,
    probes_of,
)
from derate.study.tune_visibility import STEPLESS
from derate.study.tune_wanted import Wanted

GUARD_ALONE_K: Final = 3.0
GUARD_K: Final = 1.0
"""Distance kept to every limit: what stands for tolerances left out, and for the model alone."""
MORE_GUARD_K: Final = (3.0, 8.0)
"""Searched beside the guard asked for, to see what margin costs."""
LAST_LOOKS: Final = 3
"""How often the brightest are looked at when the time for searches is over."""
MOVING_RUNS: Final = 8
"""As long as so many candidates for each setting takes moving them, and looking at some."""
DRAWN_UNITS: Final = 64
NOMINAL_SHARE: Final = 0.12
MAIN_SHARE: Final = 0.38
CLOSER_SHARE: Final = 0.25
TRADE_SHARE: Final = 0.25
"""Of the time: for the nominal lamp alone, for the goal, around the best of it, for trade-offs."""


@dataclass(frozen=True, eq=False)
class Tuning:
    """What a tuning found.

    ``present``: the lamp as it is; ``chosen``: the recommended settings, None where none keeps the
    limits, and then ``closest`` comes nearest; ``margins``, ``steps``: what light costs in margin
    and in steps, among all ``others`` tried; ``swings``: each setting moved a little; ``checks``
    on the timeline; ``drawn`` units; ``tried``: how many settings on ``units``, in ``runs`` runs;
    ``interrupted``: stopped before its time was over; ``finished``: the search had nothing left
    to find.
    """

    lamp: Lamp
    profiles: tuple[str, ...]
    goal: Goal
    wanted: Wanted
    units: tuple[str, ...]
    space: Space
    present: Figures
    chosen: Tried | None
    closest: Tried
    margins: tuple[Tried, ...]
    steps: tuple[Tried, ...]
    others: tuple[Figures, ...]
    swings: tuple[Swing, ...]
    checks: tuple[Checked, ...]
    drawn: Drawn | None
    tried: int
    runs: int
    seconds: float
    interrupted: bool
    finished: bool
    source: dict[str, Any]

    @property
    def holds(self) -> bool:
        """Whether settings keep the guard, and the limits on the timeline and of drawn units."""
        passed = self.drawn is not None and self.drawn.above_limit > 0
        checked = all(one.margin_k >= 0.0 and not one.hunts for one in self.checks)
        return self.chosen is not None and checked and not passed

    @property
    def enough(self) -> bool:
        """Whether the recommended settings give all that was asked for."""
        return self.chosen is not None and self.goal.lacking(self.chosen.figures) == 0.0

    @property
    def firmware(self) -> Lamp | None:
        """The lamp with the recommended settings."""
        return self.lamp.with_changes(dict(self.chosen.settings)) if self.chosen else None


def tune(
    lamp: Lamp,
    profiles: Mapping[str, Profile],
    wanted: Wanted | None = None,
    *,
    memory: Memory | None = None,
    doing: Doing = lambda what: None,
    stop: Stop = going_on,
) -> Tuning:
    """Tune the settings of ``lamp`` for some profiles.

    ``memory``: of an earlier go, to go on from; ``doing``: told what is being done; ``stop``: asked
    every second or so, the best so far is what is left then. Raises InputError for a lamp whose
    policy has no settings.
    """
    wanted = wanted or Wanted()
    memory = memory or Memory(hash_of(lamp, profiles, wanted), wanted.budget_s)
    space = space_of(lamp, profiles.values(), least_light=wanted.least_light, keep=wanted.keep)
    batches = {name: Batch(lamp, one, seed=wanted.seed) for name, one in profiles.items()}
    _warm_up(lamp, batches)
    ticks = sum(one.duration_s for one in profiles.values()) / lamp.timing.control_period_s
    seeker = Seeker(space, memory, wanted, doing, stop, ticks)
    trials, goal, first = _ready(lamp, batches, seeker)
    (present,) = trials.looked([()])
    finished = _searched(seeker, trials, goal, first)
    best = recommended(found(trials), goal)
    moved: tuple[Swing, ...] = ()
    checks: tuple[Checked, ...] = ()
    units: Drawn | None = None
    if best is not None and not stop():
        doing("leaving what gains nothing as it was")
        best = tidied(space, trials, goal, best)
        firmware = trials.firmware(best)
        checks = checked(
            firmware, lamp, profiles, batches, seed=wanted.seed, stop=stop, doing=doing
        )
        doing("running drawn units")
        units = drawn(
            firmware,
            drawn_units(lamp, range(DRAWN_UNITS), wanted.seed),
            batches,
            goal.guard_k,
            late=seeker.late,
        )
        doing("moving each setting")
        seeker.let_finish(trials, MOVING_RUNS * len(space.dials))
        moved = swings(space, trials, best)
        memory.keep(seeker.passed_s)
    tried = found(trials)
    nearest = min(tried, key=lambda settings: goal.cost(tried[settings]), default=())
    chosen = None if best is None else Tried(best, trials.tried[best])
    return Tuning(
        lamp=lamp,
        profiles=tuple(profiles),
        goal=goal,
        wanted=wanted,
        units=tuple(unit.name for unit in trials.units),
        space=space,
        present=present,
        chosen=chosen,
        closest=Tried(nearest, trials.tried[nearest]),
        margins=front(tried, lambda figures: figures.margin_k, least=False),
        others=tuple(tried.values()),
        steps=front(_seen(tried), lambda f: f.seen.step if f.seen else math.inf, least=True),
        swings=moved,
        checks=checks,
        drawn=units,
        tried=len(tried),
        runs=trials.runs,
        seconds=seeker.passed_s,
        interrupted=stop(),
        finished=finished,
        source=_source(lamp, memory),
    )


def _searched(
    seeker: Seeker, trials: Trials, goal: Goal, first: Mapping[Settings, Figures]
) -> bool:
    """Search for the goal, closer around the best, and for trade-offs; whether nothing is left."""
    seeker.seek(trials, "goal", goal, NOMINAL_SHARE + MAIN_SHARE, first)
    finished = seeker.refine(trials, "closer", goal, NOMINAL_SHARE + MAIN_SHARE + CLOSER_SHARE)
    others = _others(goal)
    for part, other in enumerate(others, start=1):
        until = 1.0 - TRADE_SHARE * (1.0 - part / len(others))
        seeker.seek(trials, f"trade-off {part}", other, until, found(trials))
    if not seeker.stop() or not any(figures.seen for figures in found(trials).values()):
        _look_at_the_best(trials, goal)
    return finished


def _warm_up(lamp: Lamp, batches: Mapping[str, Batch]) -> None:
    """Compile what is not yet compiled, before the time counts."""
    nominal = [nominal_unit(lamp).with_firmware(lamp)]
    for batch in batches.values():
        batch.run(nominal)
        batch.run(nominal, trace=[0])
        return


def _ready(
    lamp: Lamp, batches: Mapping[str, Batch], seeker: Seeker
) -> tuple[Trials, Goal, Mapping[Settings, Figures]]:
    """Trials on the units that count, what is asked, and what is known from the nominal lamp."""
    wanted, memory = seeker.wanted, seeker.memory
    some = variations(lamp) if wanted.corners != "none" else ()
    goal = _goal(wanted, corners=bool(some))
    trials = Trials(lamp, batches, (), memory.known(NOMINAL))
    if not some:
        return trials, goal, {}
    seeker.seek(trials, NOMINAL, goal, NOMINAL_SHARE, {})
    tried = trials.tried
    seeker.leave_for(DRAWN_UNITS * trials.each_s)
    if not seeker.has_time_for_corners(trials.each_s * probes_of(some)):
        trials.late = going_on
        return trials, _goal(wanted, corners=False), tried
    best = min(tried, key=lambda settings: goal.cost(tried[settings]), default=())
    seeker.doing("looking for the corners of the tolerances")
    corners = corner_units(
        lamp, list(batches.values()), trials.firmware(best), wanted.corners, wanted.seed
    )
    cornered = Trials(lamp, batches, corners, memory.known(CORNERS))
    cornered.each_s = trials.each_s * len(cornered.units)
    return cornered, goal, tried


def _goal(wanted: Wanted, *, corners: bool) -> Goal:
    """What is asked of settings; corners stand for some of the guard."""
    guard_k = GUARD_K if corners else GUARD_ALONE_K
    return Goal(guard_k if wanted.guard_k is None else wanted.guard_k, wanted.step, wanted.fall)


def _look_at_the_best(trials: Trials, goal: Goal) -> None:
    """Look closer at the brightest where the time was over before they were looked at."""
    late, trials.late = trials.late, going_on
    for _ in range(LAST_LOOKS):
        tried = found(trials)
        good = [settings for settings, figures in tried.items() if goal.lacking(figures) == 0.0]
        best = sorted(good, key=lambda settings: -tried[settings].light)[:AT_ONCE]
        if not best or tried[best[0]].seen:
            break
        trials.looked(best)
    trials.late = late


def _others(goal: Goal) -> tuple[Goal, ...]:
    """What else is looked for: more margin, and steps that nobody sees."""
    more = [dataclasses.replace(goal, guard_k=goal.guard_k + k) for k in MORE_GUARD_K]
    steps = [STEPLESS] if goal.step > STEPLESS else []
    return (*more, *(dataclasses.replace(goal, step=step) for step in steps))


def _seen(tried: Mapping[Settings, Figures]) -> dict[Settings, Figures]:
    """Those that keep the limits, whose steps were looked at."""
    return {settings: figures for settings, figures in tried.items() if figures.seen}


def _source(lamp: Lamp, memory: Memory) -> dict[str, Any]:
    """What the tuning was made from."""
    return {
        "version": __version__,
        "lamp_file": lamp.source.name if lamp.source else None,
        "lamp_sha256": lamp.sha256,
        "inputs_sha256": memory.inputs,
    }
