"""Of many patterns of a board the fewest that answer as well as is asked for."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
from numpy.typing import NDArray

from derate.plant.board.model import Judge, Model
from derate.plant.board.problem import NEGLIGIBLE, Known, Problem

Array = NDArray[np.float64]

LOOSER = 3.0
"""With another exchange of the faces transients may err by this much more [-]."""
INSTANTS, SHORTEST, LONGEST = 96, 0.02, 5.0
"""Instants compared, from a share of the quickest to a multiple of the slowest time."""
WEIGHED = 16
"""Rates at which what patterns leave out is weighed."""
LIGHT = 0.1
"""Weight of what they leave out of steady answers with other exchanges [-]."""


@dataclass(frozen=True)
class Errors:
    """As in ``Reduction``, of patterns chosen or of those to choose from."""

    transient: float
    degraded: float
    elsewhere: float


def instants_s(model: Model, fastest_per_s: float) -> Array:
    """Instants at which step answers are compared."""
    slowest = dense.eigvalsh(model.conductance)[0]
    return np.geomspace(SHORTEST / fastest_per_s, LONGEST / slowest, INSTANTS)


def chosen(
    problem: Problem,
    known: Known,
    first: int,
    rates: tuple[float, float],
    left: Errors,
    accuracy: float,
) -> tuple[Array, Errors]:
    """The fewest combinations of the patterns at hand that suffice, and their errors.

    The ``first`` patterns are always among them; ``left``: what those at hand leave out.
    """
    models = [known.at(each) for each in (problem.reference, *problem.elsewhere)]
    judges = [problem.judge(model.rise()) for model in models]
    between = [known.at(each) for each in problem.between]
    rises = [model.rise() for model in between]
    judging = [problem.judge(rise) for rise in rises]
    fixed = np.eye(len(models[0].capacitance))[:, :first]
    weighed = [0.0, *np.geomspace(*rates, WEIGHED)]
    middle = models[0].conductance + math.sqrt(rates[0] * rates[1]) * models[0].capacitance
    left_out = [
        *(_left_out(*each, fixed, weighed) for each in zip(models, judges, strict=True)),
        *(LIGHT * _left_out(*each, fixed, [0.0]) for each in zip(between, judging, strict=True)),
    ]
    more = _by_weight(left_out, dense.cholesky(middle))
    times_s = [instants_s(model, rates[1]) for model in models]
    steps = [model.steps(times) for model, times in zip(models, times_s, strict=True)]

    def with_more(added: int) -> tuple[Array, Errors]:
        few = np.linalg.qr(np.hstack((fixed, more[:, :added])))[0]
        transient, *degraded = (
            judge.worst(model.onto(few).steps(times) - step)
            for model, judge, times, step in zip(models, judges, times_s, steps, strict=True)
        )
        elsewhere = [
            judge.worst(model.onto(few).rise() - rise)
            for model, judge, rise in zip(between, judging, rises, strict=True)
        ]
        worst = max(degraded, default=0.0), max(elsewhere, default=0.0)
        return few, Errors(transient, *worst)

    too_few, enough = -1, more.shape[1]
    found = with_more(enough)
    while enough - too_few > 1:
        added = (too_few + enough) // 2
        few, errors = with_more(added)
        good = errors.transient + left.transient < accuracy
        good = good and errors.elsewhere + left.elsewhere < accuracy
        if good and errors.degraded + left.degraded < LOOSER * accuracy:
            enough, found = added, (few, errors)
        else:
            too_few = added
    return found


def _left_out(model: Model, judge: Judge, patterns: Array, rates: list[float]) -> Array:
    """What the patterns (n, k) leave out of the answers at some rates (n, rates m)."""
    within = model.onto(patterns)
    missing = [model.answer(rate) - patterns @ within.answer(rate) for rate in rates]
    return np.hstack([each / np.sqrt(judge.own) for each in missing])


def _by_weight(left_out: list[Array], root: Array) -> Array:
    """Patterns of what is left out (n, k each), those that weigh most first; ``root`` (n, n):
    triangular, of the measure."""
    patterns, weight, _ = np.linalg.svd(root @ np.hstack(left_out), full_matrices=False)
    return dense.solve_triangular(root, patterns[:, weight > NEGLIGIBLE * weight[0]])
