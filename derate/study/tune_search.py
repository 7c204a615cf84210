"""The search: differential evolution, a whole population a run, one goal after another.

What was tried is remembered, and a search is a function of its seed and of what its trials give:
resumed with what was tried before, it goes the same way again at once, then on.
"""

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
    others spread evenly. ``over`` is asked after each generation, ``most`` is their number.
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
    """Look closer at those that would be among the best; the others are not worth it."""
    figures = trials.figures(asked)
    known = [one for one in trials.tried.values() if one.seen and goal.lacking(one) == 0.0]
    best = max((one.light for one in known), default=-np.inf)
    near = [
        settings
        for settings, one in zip(asked, figures, strict=True)
        if goal.lacking(one) == 0.0 and one.light >= best - NEAR
    ]
    trials.looked(near)


def _population(space: Space, goal: Goal, seed: int, first: Mapping[Settings, Figures]) -> Array:
    size = max(LEAST_POPULATION, PER_SETTING * len(space.dials))
    bounds = np.array([dial.bounds for dial in space.dials])
    drawn = qmc.LatinHypercube(len(bounds), rng=np.random.default_rng(seed)).random(size)
    places: Array = bounds[:, 0] + drawn * (bounds[:, 1] - bounds[:, 0])
    best = sorted(first, key=lambda settings: goal.cost(first[settings]))[: size // 2]
    known = [space.places(space.present), *(space.places(space.values(one)) for one in best)]
    places[: len(known)] = known[:size]
    return places
