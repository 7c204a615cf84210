"""The search: differential evolution, a whole population a run, one goal after another.

What was tried is remembered, and a search is a function of its seed and of what its trials give:
resumed with what was tried before, it goes the same way again at once, then on.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution
from scipy.stats import qmc

from derate.study.tune_space import Settings, Space
from derate.study.tune_trial import Figures, Goal, Trials

Array = NDArray[np.float64]

LEAST_POPULATION, PER_SETTING = 16, 3
MOST_GENERATIONS = 400
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
    """How a search for one goal ended: after how many generations, and whether of itself."""

    generations: int
    finished: bool


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
    done = differential_evolution(
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
    return Searched(generations, bool(done.success))


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
