"""The search: differential evolution, a whole population a run, one goal after another.

What was tried is remembered, and a search is a function of its seed and of what its trials give:
resumed with what was tried before, it goes the same way again at once, then on.
"""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution
from scipy.stats import qmc

from derate.study.tune_front import nudged
from derate.study.tune_space import Settings, Space
from derate.study.tune_trial import Figures, Goal, OutOfTimeError, Trials

Array = NDArray[np.float64]

LEAST_POPULATION, PER_SETTING = 16, 3
MOST_GENERATIONS = 400
FIRST_STEP, LAST_STEP = 1.0, 0.2
"""In steps of ``NUDGES``."""
GAIN = 1e-5
"""Less light than this is no gain [-]."""
AT_ONCE = 4
"""As many are looked at closer together."""
AROUND = 0.3
"""A search that begins at known settings strays by this share of each range [-]."""
NEAR = 0.005
"""Settings are looked at closer where their light is this share below the best, or more."""
CONVERGED = 1e-3
"""A population whose costs spread by less than this share of their mean has found what it can."""


@dataclass(frozen=True)
class Searched:
    """How a search for one goal ended: after how many generations, and whether of itself.

    ``cut``: it was out of time within a generation.
    """

    generations: int
    finished: bool
    cut: bool = False


def search(
    space: Space,
    trials: Trials,
    goal: Goal,
    *,
    seed: int,
    first: Mapping[Settings, Figures],
    most: int = MOST_GENERATIONS,
    over: Callable[[int], bool] = lambda generation: False,
) -> Searched:
    """Look for the settings that cost a goal least; all that is tried is kept in ``trials``.

    The population begins with the lamp's present settings, the best of those in ``first`` and
    others around them, or spread evenly without them. ``over`` is asked after each generation,
    ``most`` is their number.
    """
    generations = 0

    def cost(places: Array) -> Array:
        asked = [space.settings(column) for column in places.T]
        _look(trials, goal, asked)
        return np.array([goal.cost(figures) for figures in trials.figures(asked)])

    def after(intermediate_result: object) -> bool:
        nonlocal generations
        generations += 1
        return over(generations)

    population = _population(space, goal, seed, first)
    evolve: Any = differential_evolution  # its stubs know no vectorized cost
    try:
        done = evolve(
            cost,
            [dial.bounds for dial in space.dials],
            integrality=space.whole,
            init=population,
            maxiter=most,
            tol=CONVERGED,
            polish=False,
            vectorized=True,
            updating="deferred",
            callback=after,
            rng=np.random.default_rng(seed),
        )
    except OutOfTimeError:
        return Searched(generations, finished=False, cut=True)
    return Searched(generations, bool(done.success))


def refine(
    space: Space,
    trials: Trials,
    goal: Goal,
    *,
    most: int = MOST_GENERATIONS,
    over: Callable[[int], bool] = lambda rounds: False,
) -> Searched:
    """Go on from the best that was tried: every setting a step to both sides, all in one run.

    Where that helps, the best of them is the next one to go on from, else steps are halved, until
    they are too small (a pattern search; Hooke & Jeeves, 1961). ``over`` is asked after each round.
    """
    tried = {settings: figures for settings, figures in trials.tried.items() if settings}
    best = min(tried, key=lambda settings: goal.cost(tried[settings]))
    size, rounds = FIRST_STEP, 0
    while size >= LAST_STEP and rounds < most:
        beside = [
            one
            for dial in space.dials
            for step in (-size, size)
            if (one := nudged(space, best, dial, step)) != best
        ]
        beside += _exchanges(space, best, size)
        rounds += 1
        try:
            _look(trials, goal, beside)
            (here,) = trials.looked([best])
        except OutOfTimeError:
            return Searched(rounds, finished=False, cut=True)
        costs = {one: goal.cost(figures) for one in beside for figures in trials.figures([one])
                 if figures.seen or goal.lacking(figures) > 0.0}  # fmt: skip
        nearest = min(costs, key=lambda one: costs[one], default=best)
        if costs.get(nearest, math.inf) < goal.cost(here) - GAIN:
            best = nearest
        else:
            size /= 2.0
        if over(rounds):
            break
    return Searched(rounds, size < LAST_STEP)


def _exchanges(space: Space, settings: Settings, size: float) -> list[Settings]:
    """Two thresholds moved at once, together and against each other: the valleys run that way."""
    thresholds = [dial for dial in space.dials if dial.sort == "temperature"]
    return [
        nudged(space, nudged(space, settings, one, size * down), other, size * up)
        for one, other in itertools.pairwise(thresholds)
        for down, up in ((1, 1), (-1, -1), (1, -0.5), (-1, 0.5), (0.5, -1), (-0.5, 1))
    ]


def _look(trials: Trials, goal: Goal, asked: Sequence[Settings]) -> None:
    """Look closer at those that would be among the best, the brightest first."""
    figures = trials.figures(asked)
    good = dict(sorted(
        ((settings, one.light) for settings, one in zip(asked, figures, strict=True)
         if goal.lacking(one) == 0.0),
        key=lambda named: -named[1],
    ))  # fmt: skip
    order = list(good)
    for i in range(0, len(order), AT_ONCE):
        best = _best(trials, goal)
        near = [settings for settings in order[i : i + AT_ONCE] if good[settings] >= best - NEAR]
        if not near:
            break
        trials.looked(near)


def _best(trials: Trials, goal: Goal) -> float:
    """The most light of what gives all that is asked for, as was seen."""
    known = (one for one in trials.tried.values() if one.seen and goal.lacking(one) == 0.0)
    return max((one.light for one in known), default=-math.inf)


def _population(space: Space, goal: Goal, seed: int, first: Mapping[Settings, Figures]) -> Array:
    """Where a search begins: evenly spread, or around the best that are known."""
    size = max(LEAST_POPULATION, PER_SETTING * len(space.dials))
    bounds = np.array([dial.bounds for dial in space.dials])
    width = bounds[:, 1] - bounds[:, 0]
    spread = qmc.LatinHypercube(len(bounds), rng=np.random.default_rng(seed)).random(size)
    best = sorted(first, key=lambda settings: goal.cost(first[settings]))[: size // 2]
    known = [space.places(space.present), *(space.places(space.values(one)) for one in best)]
    places: Array = bounds[:, 0] + spread * width
    if best:
        around = np.array([known[1 + i % len(best)] for i in range(size)])
        places = np.clip(around + AROUND * (spread - 0.5) * width, bounds[:, 0], bounds[:, 1])
    places[: len(known)] = known[:size]
    return places
