"""A search for a counterexample: histories, ambients, air, faults and units that pass a limit.

It begins with what practitioners fear, looks for the corner of the tolerances where the worst of
that is worst, lets hypothesis draw histories with an eye on the margin, and lets differential
evolution move switching times and levels. What is found is made as simple as it can be and
replayed on the timeline. A search proves nothing: that no counterexample was found says that so
many histories hold.
"""

import dataclasses
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import derate
from derate.lamp.lamp import Lamp
from derate.limits.feared import feared
from derate.limits.history import History, profile_from, profile_keys
from derate.limits.hypothesise import hypothesise
from derate.limits.light_seen import LightSeen, light_seen
from derate.limits.optimise import optimise
from derate.limits.rising import not_rising
from derate.limits.shrink import shrink
from derate.limits.space import Place, Space, space_of
from derate.limits.trials import EnoughError, Finding, Trials
from derate.loop.body import body_for, simulated
from derate.loop.run import Result, run
from derate.loop.timeline import Stop, going_on
from derate.sensing.chain import chains_of
from derate.study.tune_check import margins_of
from derate.study.tune_units import Corners, corner_units, nominal_unit

EFFORT: Final = 120
"""Histories drawn and optimised, by default."""
DRAWN: Final = 0.25
"""Of these, how many hypothesis draws."""
POPULATION: Final = 16
SHRINKING: Final = 100
"""Histories that are run, at most, to make a finding simpler."""
SEARCHING: Final = 0.7
"""Of a budget of time, the share for the search; the rest is for shrinking."""
COLDER: Final = (0.0, 0.25, 0.5, 1.0)
"""Ambients of units at a corner, as shares of the span below the hottest."""
Doing = Callable[[str], object]


@dataclass(frozen=True)
class Wanted:
    """What is asked of a search.

    ``ambient_c`` [degC], ``airflow`` [-]: spans instead of those of the file; ``faults``: kinds of
    events that may befall the lamp; ``corners``: of the tolerances; ``guard_k``: a margin below it
    is a counterexample [K]; ``light``: a visible step or hunting is one, too; ``effort``: histories
    beside those feared; ``budget_s``: after which the search ends [s], None for never; ``first``:
    it ends with the first counterexample.
    """

    ambient_c: tuple[float, float] | None = None
    airflow: tuple[float, float] | None = None
    faults: tuple[str, ...] = ()
    corners: Corners = "likely"
    guard_k: float = 0.0
    light: bool = False
    effort: int = EFFORT
    budget_s: float | None = None
    first: bool = False
    seed: int = 0


WANTED: Final = Wanted()


@dataclass(frozen=True, eq=False)
class Challenge:
    """What a search found.

    ``ways``: way of searching -> its worst finding; ``found``: the simplest that is as bad as the
    worst but for a little, replayed as ``replay`` on the timeline in ``keys_of_finding``;
    ``place``: what comes nearest to its limit there; ``differs_k``: of the replay from the search;
    ``seen``: the largest step of light and hunting of the nominal lamp; ``cut_short``: why the
    search ended before its time, empty if it did not.
    """

    lamp: Lamp
    wanted: Wanted
    space: Space
    ways: dict[str, Finding]
    histories: int
    runs: int
    found: Finding
    replay: Result
    place: str
    differs_k: float
    seen: LightSeen
    doubts: tuple[str, ...]
    cut_short: str
    source: dict[str, str | int | float]

    @property
    def worst(self) -> Finding:
        """The worst of all ways, before it was made simpler."""
        return min(self.ways.values(), key=lambda one: one.margin_k)

    @property
    def margin_k(self) -> float:
        """Of the finding on the timeline [K]."""
        return margins_of(self.replay)[self.place]

    @property
    def passed(self) -> bool:
        """Whether a counterexample was found: a margin below the guard."""
        return self.margin_k < self.wanted.guard_k

    @property
    def holds(self) -> bool:
        """Whether nothing that was asked about was broken."""
        return not self.passed and not (self.wanted.light and self.seen.broken)


def challenge(
    lamp: Lamp,
    wanted: Wanted = WANTED,
    *,
    doing: Doing = lambda doing: None,
    stop: Stop = going_on,
) -> Challenge:
    """Search for histories that bring a lamp to its limits, and past them.

    The same seed and effort give the same result, unless the budget or ``stop`` ends it earlier;
    then the best so far is told. Raises InputError and SurroundingsError as a run does.
    """
    begun_s = time.monotonic()
    lamp = simulated(lamp)
    if lamp.cutouts:  # it is control that is challenged, not what stands beside it
        lamp = lamp.with_changes({"cutouts": None})
    space = space_of(lamp, ambient_c=wanted.ambient_c, airflow=wanted.airflow, faults=wanted.faults)
    share = SEARCHING

    def over() -> bool:
        late = wanted.budget_s is not None and time.monotonic() - begun_s > share * wanted.budget_s
        return bool(trials.kept.histories) and (late or stop())

    def enough() -> bool:
        return over() or (wanted.first and trials.kept.below(wanted.guard_k))

    trials = Trials(space, wanted.seed, enough)
    cut_short = ""
    try:
        _search(trials, wanted, doing)
    except EnoughError:
        if over():
            cut_short = "stopped" if stop() else "out of time"
    share, trials.over = 1.0, over
    doing("making it simpler")
    nominal = Place(nominal_unit(lamp))
    found = shrink(trials, trials.kept.worst, nominal, guard_k=wanted.guard_k, tries=SHRINKING)
    doing("replaying it on the timeline")
    replay = replayed(found, space, wanted.seed)
    margins_k = margins_of(replay)
    place = min(margins_k, key=lambda name: margins_k[name])
    return Challenge(
        lamp=lamp,
        wanted=wanted,
        space=space,
        ways={way: one for way, one in trials.kept.ways.items() if way != "shrunk"},
        histories=trials.kept.histories,
        runs=trials.kept.runs,
        found=found,
        replay=replay,
        place=place,
        differs_k=abs(margins_k[place] - found.margin_k),
        seen=light_seen(trials),
        doubts=not_rising(lamp),
        cut_short=cut_short,
        source=_source(lamp, wanted),
    )


def keys_of_finding(found: Finding, space: Space) -> dict[str, Any]:
    """The mission profile of a finding, as a file has it."""
    return profile_keys(found.history, space.lamp, found.surroundings.ambient_c(space))


def replayed(found: Finding, space: Space, seed: int) -> Result:
    """A finding on the timeline: its unit, with the firmware of the nominal lamp."""
    unit = found.surroundings.unit
    body = body_for(space.lamp, chains_of(space.lamp)) if unit.scores else None
    profile = profile_from(keys_of_finding(found, space))
    return run(
        unit.lamp,
        profile,
        profile_name="counterexample",
        seed=seed,
        unit=unit.number,
        body=body,
    )


def _search(trials: Trials, wanted: Wanted, doing: Doing) -> None:
    """All ways of searching, one after the other; raises EnoughError when it is to end."""
    space = trials.space
    nominal = nominal_unit(space.lamp)
    first = [Place(nominal, colder_k) for colder_k in _ambients_k(space, trials.lanes)]
    histories = []
    for name, history in feared(space):
        doing(f"trying {name}")
        trials.run(name, [history], first)
        histories.append(history)
    doing("looking for the worst corner of the tolerances")
    places = _places(trials, wanted, first)
    drawn = max(1, round(DRAWN * wanted.effort))
    if len(places) > 1 or places[0].unit.scores:
        trials.run("feared, at corners", _worst_first(trials, histories)[:4], places)
    doing(f"drawing {drawn} histories")
    hypothesise(trials, places, examples=drawn, seed=wanted.seed)
    doing("moving switching times and levels")
    optimise(
        trials,
        places,
        _worst_first(trials, histories),
        population=POPULATION,
        generations=max(0, round((wanted.effort - drawn) / POPULATION) - 1),
        seed=wanted.seed,
    )


def _ambients_k(space: Space, lanes: int) -> list[float]:
    """How much colder than the hottest the ambients are that a feared history is tried in [K]."""
    if space.span_k == 0.0:
        return [0.0]
    return [space.span_k * i / (lanes - 1) for i in range(lanes)]


def _places(trials: Trials, wanted: Wanted, first: Sequence[Place]) -> list[Place]:
    """Where the search goes on: corners of the tolerances, the nominal lamp, some ambients."""
    space, worst = trials.space, trials.kept.worst
    batch = trials.batch(worst.history, worst.surroundings.colder_k)
    corners = corner_units(space.lamp, [batch], space.lamp, wanted.corners, wanted.seed)
    still = [dataclasses.replace(unit, shift_k=0.0, airflow=1.0) for unit in corners]
    units = [*still, nominal_unit(space.lamp)][: max(1, trials.lanes // 2)]
    each = max(1, trials.lanes // len(units))
    own = worst.surroundings.colder_k
    colder_k = list(dict.fromkeys([own, *(space.span_k * share for share in COLDER)]))[:each]
    return [Place(unit, k) for unit in units for k in colder_k]


def _worst_first(trials: Trials, histories: Sequence[History]) -> list[History]:
    """Histories, those first that were the worst of their kind."""
    worst = sorted(trials.kept.ways.values(), key=lambda one: one.margin_k)
    return list(dict.fromkeys([*(one.history for one in worst), *histories]))


def _source(lamp: Lamp, wanted: Wanted) -> dict[str, str | int | float]:
    """Where the numbers come from."""
    file = {"lamp_file": lamp.source.name} if lamp.source else {}
    return {
        "version": derate.__version__,
        **file,
        "lamp_sha256": lamp.sha256,
        "effort": wanted.effort,
        "seed": wanted.seed,
    }
