"""From thousands of cells to a few dozen patterns that answer alike at the nodes that are kept.

The temperatures of all cells are sought as a combination of a few patterns V: T = V z. Projecting
the cells' equations onto V keeps them symmetric and positive, so that the small network is passive
and stable whatever it is joined to. V always holds

    the uniform temperature, and the steady answer G^-1 b to heat in each kept node and face,

which makes the small network's steady state and its mean delays those of the cells, and as many
more patterns as transients and other exchanges of the faces need. These come from answers
(G + s C)^-1 b at rates s, from the slowest to the fastest that matter, until those at one more rate
change little in the step answers; and from steady answers with the faces exchanging more or less.
Of them the ones that weigh most are kept.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
from numpy.typing import NDArray

from derate.plant.board.answers import answers_of
from derate.plant.board.model import Judge, Model
from derate.plant.board.problem import NEGLIGIBLE, Known, Problem

Array = NDArray[np.float64]

FINER = 0.3
"""Patterns are enough to choose from when the last of them changed step answers by this share [-]
of the accuracy asked for; what is left is less, and is taken off what choosing may cost."""
ROUNDING = 1e-10
"""A pattern of which less [-] is left beside others that must be exact is one of them."""
RATES = ((0.5, 1.0), (0.25, 0.75), (0.375, 0.875), (0.0, 0.625))
"""Rates are tried in this order, two at a time, as shares of the way from slowest to fastest."""
LOOSER = 3.0
"""With another exchange of the faces transients may err by this much more [-]."""
FASTER = 3.0
"""The fastest rate over that at which the quickest node begins to rise [-]."""
INSTANTS, SHORTEST, LONGEST = 96, 0.02, 5.0
"""Instants compared, from a share of the quickest to a multiple of the slowest time."""
WEIGHED = 16
"""Rates at which the error of the patterns chosen is weighed."""


@dataclass(frozen=True)
class Reduction:
    """What the small network leaves out, as shares of the steady rise.

    ``order``: nodes; ``steady``: largest error of steady rises; ``transient``: of step answers at
    any instant, against all patterns at hand; ``frequency``: change of step answers by the patterns
    of the last rate, an upper estimate of what those at hand leave out of the cells;
    ``elsewhere``: of steady rises with other exchanges of the faces; ``degraded``: of step answers
    with them.
    """

    order: int
    steady: float
    transient: float
    frequency: float
    elsewhere: float
    degraded: float


def patterns_of(problem: Problem, accuracy: float | None) -> tuple[Array, Reduction]:
    """Patterns (M, n) in the coordinates of ``problem``, and what they leave out.

    Without an ``accuracy`` those of the steady state alone, whatever the transients.
    """
    situations = [problem.reference, *problem.elsewhere]
    deep = [1 if accuracy is None else 2] + [1] * len(problem.elsewhere)
    matrices = [problem.conductance(each) for each in situations]
    slow, *others = answers_of(matrices, problem.inputs, deep)
    del matrices
    steady = slow[:, : problem.inputs.shape[1]]
    rise = problem.inputs.T @ steady
    judge = problem.judge(rise)
    known = Known(problem, _exact(np.column_stack((problem.uniform, steady))))
    fixed = len(known.at(problem.reference).conductance)
    for answers in (slow, *others):
        known.join(answers)
    del slow, others, steady
    if accuracy is None:
        model = known.at(problem.reference)
        everything = np.eye(len(model.conductance))
        error = judge.worst(model.rise() - rise)
        return known.combined(everything), Reduction(len(everything), error, *4 * (math.nan,))
    rates = _rates(problem, judge)
    change = _many(problem, judge, known, rates, FINER * accuracy)
    chosen, errors = _chosen(problem, known, fixed, rates, (accuracy - change, accuracy))
    error = judge.worst(known.at(problem.reference).onto(chosen).rise() - rise)
    return known.combined(chosen), Reduction(
        chosen.shape[1], error, errors.transient, change, errors.elsewhere, errors.degraded
    )


def _exact(patterns: Array) -> Array:
    """Patterns (M, n) made orthonormal, their span kept to rounding."""
    tall, triangle = np.linalg.qr(patterns / np.linalg.norm(patterns, axis=0))
    turn, left, _ = dense.qr(triangle, pivoting=True)
    return tall @ turn[:, np.abs(np.diag(left)) > ROUNDING]


def _rates(problem: Problem, judge: Judge) -> tuple[float, float]:
    """The slowest rate, that of the whole board, and the fastest of interest [1/s]."""
    uniform = problem.uniform
    shed = sum(each * problem.shed[name] for name, each in problem.reference.items())
    slowest = float(uniform**2 @ shed / (uniform @ uniform))
    slope = (problem.inputs**2).sum(axis=0)
    quickest = float((slope / judge.own)[list(problem.heated)].max())
    return slowest, FASTER * quickest


def _times_s(model: Model, fastest_per_s: float) -> Array:
    """Instants at which step answers are compared."""
    slowest = dense.eigvalsh(model.conductance)[0]
    return np.geomspace(SHORTEST / fastest_per_s, LONGEST / slowest, INSTANTS)


def _many(
    problem: Problem, judge: Judge, known: Known, rates: tuple[float, float], share: float
) -> float:
    """Patterns to choose from, and by how much step answers changed when the last ones came.

    A rate that brings nothing new tells nothing of what the others would bring.
    """
    change, reference = 0.0, problem.reference
    times_s = _times_s(known.at(reference), rates[1])
    for ways in RATES:
        tried = [rates[0] * (rates[1] / rates[0]) ** way for way in ways]
        matrices = [problem.conductance(reference, rate) for rate in tried]
        told = False
        for answers in answers_of(matrices, problem.inputs, [2, 2]):
            before = known.at(reference).steps(times_s)
            told = known.join(answers)
            if told:
                change = judge.worst(known.at(reference).steps(times_s) - before)
        if told and change < share:
            break
    return change


@dataclass(frozen=True)
class _Errors:
    """As in ``Reduction``, of patterns chosen."""

    transient: float
    elsewhere: float
    degraded: float


def _chosen(
    problem: Problem,
    known: Known,
    first: int,
    rates: tuple[float, float],
    accuracy: tuple[float, float],
) -> tuple[Array, _Errors]:
    """The fewest combinations of the patterns at hand that suffice, and their errors.

    The ``first`` patterns are always among them; ``accuracy``: of transients at the reference, and
    of rises with other exchanges.
    """
    models = [known.at(each) for each in (problem.reference, *problem.elsewhere)]
    rises = [model.rise() for model in models]
    judges = [problem.judge(rise) for rise in rises]
    between = [known.at(each) for each in problem.between]
    risen = [model.rise() for model in between]
    judging = [problem.judge(rise) for rise in risen]
    fixed = np.eye(len(models[0].capacitance))[:, :first]
    more = _by_weight(models, judges, fixed, rates)
    times_s = [_times_s(model, rates[1]) for model in models]
    steps = [model.steps(times) for model, times in zip(models, times_s, strict=True)]

    def with_more(added: int) -> tuple[Array, _Errors]:
        chosen = np.linalg.qr(np.hstack((fixed, more[:, :added])))[0]
        transient, *degraded = (
            judge.worst(model.onto(chosen).steps(times) - step)
            for model, judge, times, step in zip(models, judges, times_s, steps, strict=True)
        )
        elsewhere = [
            judge.worst(model.onto(chosen).rise() - rise)
            for model, judge, rise in zip(between, judging, risen, strict=True)
        ]
        worst = max(elsewhere, default=0.0), max(degraded, default=0.0)
        return chosen, _Errors(transient, *worst)

    too_few, enough = -1, more.shape[1]
    found = with_more(enough)
    while enough - too_few > 1:
        added = (too_few + enough) // 2
        chosen, errors = with_more(added)
        good = errors.transient < accuracy[0] and errors.elsewhere < accuracy[1]
        if good and errors.degraded < LOOSER * accuracy[1]:
            enough, found = added, (chosen, errors)
        else:
            too_few = added
    return found


def _by_weight(
    models: list[Model], judges: list[Judge], fixed: Array, rates: tuple[float, float]
) -> Array:
    """Patterns beside the fixed ones, those that weigh most in what these leave out first."""
    left_out = []
    for model, judge in zip(models, judges, strict=True):
        for rate in (0.0, *np.geomspace(*rates, WEIGHED)):
            missing = model.answer(rate) - fixed @ model.onto(fixed).answer(rate)
            left_out.append(missing / np.sqrt(judge.own))
    middle = math.sqrt(rates[0] * rates[1])
    root = np.linalg.cholesky(models[0].conductance + middle * models[0].capacitance).T
    patterns, weight, _ = np.linalg.svd(root @ np.hstack(left_out), full_matrices=False)
    return dense.solve_triangular(root, patterns[:, weight > NEGLIGIBLE * weight[0]])
