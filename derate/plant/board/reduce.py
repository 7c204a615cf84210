"""From thousands of cells to a few dozen patterns that answer alike at the nodes that are kept.

The temperatures of all cells are sought as a combination of a few patterns V: T = V z. Projecting
the cells' equations onto V keeps them symmetric and positive, so that the small network is passive
and stable whatever it is joined to. V always holds

    the uniform temperature, and the steady answer G^-1 b to heat in each kept node and face,

which makes the small network's steady state and its mean delays those of the cells, and as many
more patterns as the transients need. These come from answers (G + s C)^-1 b at rates s, from the
slowest to the fastest that matter, until those at one more rate change little in the step answers;
and from steady answers with the interface degraded. Of them the ones that weigh most are kept.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
import scipy.sparse as sparse
from numpy.typing import NDArray

from derate.plant.board.answers import answers_of
from derate.plant.board.model import Judge, Model, judge_of

Array = NDArray[np.float64]

FINER = 0.3
"""Patterns are enough to choose from when the last of them changed step answers by this share [-]
of the accuracy asked for; what is left is less, and is taken off what choosing may cost."""
ROUNDING, NEGLIGIBLE = 1e-10, 1e-6
"""A pattern of which less [-] is left beside the others is one of them: among those that must be
exact, and among those to choose from."""
RATES = ((0.5, 1.0), (0.25, 0.75), (0.375, 0.875), (0.0, 0.625))
"""Rates are tried in this order, two at a time, as shares of the way from slowest to fastest."""
LOOSER = 3.0
"""With the interface degraded the error may be this much larger [-]."""
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
    ``degraded``: of step answers with the interface degraded.
    """

    order: int
    steady: float
    transient: float
    frequency: float
    degraded: float


@dataclass(frozen=True, eq=False)
class Problem:
    """Cells to be reduced, seen in the coordinates in which every cell has a capacity of one.

    With C^1/2 T for T: ``uniform`` (M) is C^1/2, ``conductance`` (M, M) is C^-1/2 G C^-1/2 at the
    reference exchange and, in ``degraded``, in other situations, ``inputs`` (M, m) is C^-1/2 b of
    the mean of the board, ``spots`` kept nodes, and faces. ``heated``: inputs of which answers are
    judged; ``groups``: those heated at once.
    """

    uniform: Array
    conductance: sparse.csc_array
    degraded: tuple[sparse.csc_array, ...]
    inputs: Array
    spots: int
    heated: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...]

    def judge(self, rise: Array) -> Judge:
        """What errors count where the steady rises between inputs are these (m, m) [K/W]."""
        return judge_of(rise, self.heated, self.groups, self.spots)

    def seen(self, conductance: sparse.csc_array, patterns: Array) -> Model:
        """The cells with their state sought in orthonormal patterns (M, n)."""
        return Model(
            np.eye(patterns.shape[1]),
            patterns.T @ (conductance @ patterns),
            patterns.T @ self.inputs,
        )


def patterns_of(problem: Problem, accuracy: float | None) -> tuple[Array, Reduction]:
    """Patterns (M, n) in the coordinates of ``problem``, and what they leave out.

    Without an ``accuracy`` those of the steady state alone, whatever the transients.
    """
    if accuracy is None:
        (steady,) = answers_of([problem.conductance], problem.inputs, [1])
    else:
        matrices = [problem.conductance, *problem.degraded]
        deep = [2] + [1] * len(problem.degraded)
        slow, *degraded = answers_of(matrices, problem.inputs, deep)
        steady = slow[:, : problem.inputs.shape[1]]
    rise = problem.inputs.T @ steady
    judge = problem.judge(rise)
    fixed = _exact(np.column_stack((problem.uniform, steady)))
    model = problem.seen(problem.conductance, fixed)
    if accuracy is None:
        error = judge.worst(model.rise() - rise)
        return fixed, Reduction(fixed.shape[1], error, math.nan, math.nan, math.nan)
    rates = _rates(problem, judge)
    known = fixed, model
    for answers in (slow, *degraded):
        known = _joined(problem, known, answers)
    (wide, model), change = _many(problem, judge, known, rates, FINER * accuracy)
    models = [model, *(problem.seen(each, wide) for each in problem.degraded)]
    judges = [problem.judge(each.rise()) for each in models]
    chosen, errors = _chosen(models, judges, fixed.shape[1], rates, accuracy - change)
    error = judge.worst(model.onto(chosen).rise() - rise)
    transient, worse = errors[0], max(errors[1:], default=0.0)
    return wide @ chosen, Reduction(chosen.shape[1], error, transient, change, worse)


def _exact(patterns: Array) -> Array:
    """Patterns (M, n) made orthonormal, their span kept to rounding."""
    tall, triangle = np.linalg.qr(patterns / np.linalg.norm(patterns, axis=0))
    turn, left, _ = dense.qr(triangle, pivoting=True)
    return tall @ turn[:, np.abs(np.diag(left)) > ROUNDING]


def _beside(known: Array, patterns: Array) -> Array:
    """What patterns (M, n) add to orthonormal ones that are known, made orthonormal."""
    basis = patterns
    for _ in range(3):
        basis = basis / np.linalg.norm(basis, axis=0)
        basis -= known @ (known.T @ basis)
        weight, turn = dense.eigh(basis.T @ basis)
        kept = weight > NEGLIGIBLE**2
        basis = basis @ (turn[:, kept] / np.sqrt(weight[kept]))
    return basis


def _rates(problem: Problem, judge: Judge) -> tuple[float, float]:
    """The slowest rate, that of the whole board, and the fastest of interest [1/s]."""
    uniform = problem.uniform
    slowest = float(uniform @ (problem.conductance @ uniform) / (uniform @ uniform))
    slope = (problem.inputs**2).sum(axis=0)
    quickest = float((slope / judge.own)[list(problem.heated)].max())
    return slowest, FASTER * quickest


def _times_s(model: Model, fastest_per_s: float) -> Array:
    """Instants at which step answers are compared."""
    slowest = dense.eigvalsh(model.conductance)[0]
    return np.geomspace(SHORTEST / fastest_per_s, LONGEST / slowest, INSTANTS)


Known = tuple[Array, Model]
"""Patterns (M, n), and the cells seen through them."""


def _joined(problem: Problem, known: Known, more: Array) -> Known:
    """Patterns with what more of them add."""
    wide, model = known
    new = _beside(wide, more)
    moved = problem.conductance @ new
    across = wide.T @ moved
    conductance = np.block([[model.conductance, across], [across.T, new.T @ moved]])
    inputs = np.vstack((model.inputs, new.T @ problem.inputs))
    return np.hstack((wide, new)), Model(np.eye(len(conductance)), conductance, inputs)


def _many(
    problem: Problem, judge: Judge, known: Known, rates: tuple[float, float], share: float
) -> tuple[Known, float]:
    """Patterns to choose from, and by how much step answers changed when the last ones came."""
    change, times_s = math.inf, _times_s(known[1], rates[1])
    one = sparse.eye_array(len(known[0]), format="csc")
    for ways in RATES:
        tried = [rates[0] * (rates[1] / rates[0]) ** way for way in ways]
        faster = [problem.conductance + rate * one for rate in tried]
        for answers in answers_of(faster, problem.inputs, [2, 2]):
            before = known[1].steps(times_s)
            known = _joined(problem, known, answers)
            change = judge.worst(known[1].steps(times_s) - before)
        if change < share:
            break
    return known, change


def _chosen(
    models: list[Model],
    judges: list[Judge],
    first: int,
    rates: tuple[float, float],
    accuracy: float,
) -> tuple[Array, list[float]]:
    """The fewest combinations of the patterns at hand that suffice, and their errors.

    The ``first`` patterns are always among them; one error for each situation.
    """
    fixed = np.eye(len(models[0].capacitance))[:, :first]
    more = _by_weight(models, judges, fixed, rates)
    times_s = [_times_s(model, rates[1]) for model in models]
    steps = [model.steps(times) for model, times in zip(models, times_s, strict=True)]

    def with_more(added: int) -> tuple[Array, list[float]]:
        chosen = np.linalg.qr(np.hstack((fixed, more[:, :added])))[0]
        return chosen, [
            judge.worst(model.onto(chosen).steps(times) - step)
            for model, judge, times, step in zip(models, judges, times_s, steps, strict=True)
        ]

    too_few, enough = -1, more.shape[1]
    found = with_more(enough)
    while enough - too_few > 1:
        added = (too_few + enough) // 2
        chosen, errors = with_more(added)
        if errors[0] < accuracy and max(errors) < LOOSER * accuracy:
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
