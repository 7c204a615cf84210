"""From thousands of cells to a few dozen patterns that answer alike at the nodes that are kept.

The temperatures of all cells are sought as a combination of a few patterns V: T = V z. Projecting
the cells' equations onto V keeps them symmetric and positive, so that the small network is passive
and stable whatever it is joined to. V always holds

    the uniform temperature, and the steady answer G^-1 b to heat in each kept node and face,

which makes the small network's steady state and its mean delays those of the cells, and as many
more patterns as transients and other exchanges of the faces need. These come from the answers

    A^-1 b,  A^-1 D A^-1 b,  A^-1 D A^-1 D A^-1 b, ...

with A = G + s C at rest and at rates s, where D is C; and with A = G of an interface that hardly
exchanges heat, where D is its exchange: the answer to b and its derivatives by the rate and by the
exchange. To factor A takes longer than all answers from it. There are as many A as it takes for the
last answers to change little in step answers and in steady rises elsewhere. Of all patterns those
that weigh most are kept.
"""

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
from numpy.typing import NDArray

from derate.plant.board.answers import answers_of
from derate.plant.board.choice import LOOSER, Errors, chosen, instants_s
from derate.plant.board.model import Judge
from derate.plant.board.problem import Known, Problem

Array = NDArray[np.float64]

FINER = 0.3
"""Patterns are enough to choose from when the last of them changed step answers by this share [-]
of the accuracy asked for; what is left is less, and is taken off what choosing may cost."""
AT_REST = 0.01
"""Accuracy where only the rest is asked for [-]: of rises as the faces shed more or less."""
ROUNDING = 1e-10
"""A pattern of which less [-] is left beside others that must be exact is one of them."""
DEEP, DEEP_ELSEWHERE = 3, 4
"""Answers to each input by one factor, at a rate and at another exchange of the faces."""
RATES = (0.625, 0.875, 0.375, 0.75, 0.25, 1.0, 0.5, 0.0)
"""Rates are tried in this order, as shares of the way from slowest to fastest."""
FASTER = 3.0
"""The fastest rate over that at which the quickest node begins to rise [-]."""


@dataclass(frozen=True)
class Reduction:
    """What the small network leaves out, as shares of the steady rise.

    ``order``: nodes; ``steady``: largest error of steady rises; ``transient``: of step answers at
    any instant, against all patterns at hand; ``frequency``: change of step answers by the last of
    these, an upper estimate of what they leave out of the cells; ``elsewhere``: of steady rises
    with other exchanges of the faces, and ``degraded``: of step answers with them, each with the
    change by the last patterns.
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
    steady, *slow = answers_of(problem.conductance(problem.reference), problem.inputs, DEEP)
    rise = problem.inputs.T @ steady
    judge = problem.judge(rise)
    known = Known(problem, _exact(np.column_stack((problem.uniform, steady))))
    fixed = len(known.at(problem.reference).conductance)
    del steady
    if accuracy is None:
        _rises(problem, known, FINER * AT_REST, itertools.chain([slow], _elsewhere(problem)))
        model = known.at(problem.reference)
        everything = np.eye(len(model.conductance))
        error = judge.worst(model.rise() - rise)
        return known.combined(everything), Reduction(len(everything), error, *4 * (math.nan,))
    for answers in slow:
        known.join(answers)
    del slow
    rates = _rates(problem, judge)
    rises = _rises(problem, known, FINER * accuracy, _elsewhere(problem))
    left = Errors(*_steps(problem, known, rates, FINER * accuracy), rises)
    few, errors = chosen(problem, known, fixed, rates, left, accuracy)
    error = judge.worst(known.at(problem.reference).onto(few).rise() - rise)
    return known.combined(few), Reduction(
        order=few.shape[1],
        steady=error,
        transient=errors.transient,
        frequency=left.transient,
        elsewhere=errors.elsewhere + left.elsewhere,
        degraded=errors.degraded + left.degraded,
    )


def _exact(patterns: Array) -> Array:
    """Patterns (M, n) made orthonormal, their span kept to rounding."""
    tall, triangle = np.linalg.qr(patterns / np.linalg.norm(patterns, axis=0))
    turn, left, _ = dense.qr(triangle, pivoting=True)
    return tall @ turn[:, np.abs(np.diag(left)) > ROUNDING]


def _rates(problem: Problem, judge: Judge) -> tuple[float, float]:
    """The slowest rate, that of the whole board, and the fastest of interest [1/s]."""
    uniform = problem.uniform
    shed = problem.shed_by(problem.reference)
    slowest = float(uniform**2 @ shed / (uniform @ uniform))
    slope = (problem.inputs**2).sum(axis=0)
    quickest = float((slope / judge.own)[list(problem.heated)].max())
    return slowest, FASTER * quickest


def _elsewhere(problem: Problem) -> Iterator[list[Array]]:
    """Answers with other exchanges of the faces."""
    reference = problem.shed_by(problem.reference)
    for each in problem.solved:
        less = reference - problem.shed_by(each)
        yield answers_of(problem.conductance(each), problem.inputs, DEEP_ELSEWHERE, less)


def _swift(problem: Problem, rates: tuple[float, float]) -> Iterator[list[Array]]:
    """Answers at rates between the slowest and the fastest."""
    for way in RATES:
        rate = rates[0] * (rates[1] / rates[0]) ** way
        yield answers_of(problem.conductance(problem.reference, rate), problem.inputs, DEEP)


def _rises(problem: Problem, known: Known, aim: float, answers: Iterable[list[Array]]) -> float:
    """By how much the last patterns of other exchanges changed steady rises there."""
    judges = [problem.judge(known.at(each).rise()) for each in problem.between]
    if not judges:
        return 0.0
    changes = _joined(
        known,
        answers,
        judges,
        np.full(len(judges), aim),
        lambda: [known.at(each).rise() for each in problem.between],
    )
    return float(changes.max())


def _steps(
    problem: Problem, known: Known, rates: tuple[float, float], aim: float
) -> tuple[float, float]:
    """By how much the last patterns of transients changed step answers: at the reference, and with
    other exchanges."""
    situations = (problem.reference, *problem.elsewhere)
    models = [known.at(each) for each in situations]
    judges = [problem.judge(model.rise()) for model in models]
    times_s = [instants_s(model, rates[1]) for model in models]
    changes = _joined(
        known,
        _swift(problem, rates),
        judges,
        aim * np.array([1.0, *(LOOSER for _ in problem.elsewhere)]),
        lambda: [known.at(e).steps(times) for e, times in zip(situations, times_s, strict=True)],
    )
    return float(changes[0]), float(changes[1:].max(initial=0.0))


def _joined(
    known: Known,
    answers: Iterable[list[Array]],
    judges: list[Judge],
    aims: Array,
    told: Callable[[], list[Array]],
) -> Array:
    """Patterns from the answers by one factor after the other until what is ``told`` changes less
    than ``aims``; by how much it changed when the last came.

    The first factor is judged by its last answers, further ones by all of theirs. One that brings
    nothing new tells nothing of what the others would bring.
    """
    before: list[Array] = []
    changes = np.zeros(len(judges))
    for *most, last in answers:
        new = [known.join(each) for each in most]
        before = before or told()
        new.append(known.join(last))
        after = told()
        if any(new):
            moved = (now - then for now, then in zip(after, before, strict=True))
            changes = np.array([j.worst(each) for j, each in zip(judges, moved, strict=True)])
            if (changes < aims).all():
                break
        before = after
    return changes
