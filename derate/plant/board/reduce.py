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
import scipy.sparse.linalg as solving
from numpy.typing import NDArray

from derate.plant.board.model import Judge, Model, judge_of

Array = NDArray[np.float64]

FINER = 0.3
"""Patterns are enough to choose from when the last of them changed step answers by this share [-]
of the accuracy asked for; what is left is less, and is taken off what choosing may cost."""
NEGLIGIBLE = 1e-10
"""A pattern of which less [-] is left beside the others is one of them."""
RATES = (0.5, 1.0, 0.25, 0.0, 0.75, 0.375, 0.875, 0.125, 0.625)
"""Rates are tried in this order, as shares of the way from the slowest to the fastest."""
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


def factors(matrix: sparse.csc_array) -> solving.SuperLU:
    """Factors of a symmetric positive matrix."""
    return solving.splu(
        sparse.csc_matrix(matrix),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def orthonormal(patterns: Array, beside: Array | None = None) -> Array:
    """Patterns (M, n) made orthonormal, and orthogonal to those ``beside``."""
    basis = patterns / np.linalg.norm(patterns, axis=0)
    for _ in range(2):
        if beside is not None:
            basis -= beside @ (beside.T @ basis)
        tall, triangle = np.linalg.qr(basis)
        turn, left, _ = dense.qr(triangle, pivoting=True)
        basis = tall @ turn[:, np.abs(np.diag(left)) > NEGLIGIBLE]
    return basis


def patterns_of(problem: Problem, accuracy: float | None) -> tuple[Array, Reduction]:
    """Patterns (M, n) in the coordinates of ``problem``, and what they leave out.

    Without an ``accuracy`` those of the steady state alone, whatever the transients.
    """
    answers = _answers(problem.conductance, problem.inputs, deep=1 if accuracy is None else 2)
    steady = answers[:, : problem.inputs.shape[1]]
    rise = problem.inputs.T @ steady
    judge = problem.judge(rise)
    rates = _rates(problem, judge)
    fixed = orthonormal(np.column_stack((problem.uniform, steady)))
    if accuracy is None:
        error = judge.worst(problem.seen(problem.conductance, fixed).rise() - rise)
        return fixed, Reduction(fixed.shape[1], error, math.nan, math.nan, math.nan)
    wide = np.hstack((fixed, orthonormal(answers, fixed)))
    for matrix in problem.degraded:
        changed = _answers(matrix, problem.inputs, deep=1)
        wide = np.hstack((wide, orthonormal(changed, wide)))
    wide, change = _many(problem, judge, wide, rates, FINER * accuracy)
    models = [problem.seen(each, wide) for each in (problem.conductance, *problem.degraded)]
    judges = [problem.judge(model.rise()) for model in models]
    chosen, errors = _chosen(models, judges, fixed.shape[1], rates, accuracy - change)
    error = judge.worst(models[0].onto(chosen).rise() - rise)
    transient, degraded = errors[0], max(errors[1:], default=0.0)
    return wide @ chosen, Reduction(chosen.shape[1], error, transient, change, degraded)


def _answers(matrix: sparse.csc_array, inputs: Array, *, deep: int) -> Array:
    """The answers A^-1 b, A^-2 b, ... to the inputs, up to the power ``deep``."""
    solve = factors(matrix).solve
    found = [solve(inputs)]
    for _ in range(deep - 1):
        found.append(solve(found[-1]))
    return np.hstack(found)


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


def _many(
    problem: Problem, judge: Judge, wide: Array, rates: tuple[float, float], share: float
) -> tuple[Array, float]:
    """Patterns to choose from, and by how much step answers changed when the last ones came."""
    model, change = problem.seen(problem.conductance, wide), math.inf
    times_s = _times_s(model, rates[1])
    for way in RATES:
        before = model.steps(times_s)
        rate = rates[0] * (rates[1] / rates[0]) ** way
        faster = problem.conductance + rate * sparse.eye_array(len(wide), format="csc")
        answers = _answers(faster, problem.inputs, deep=2)
        wide = np.hstack((wide, orthonormal(answers, wide)))
        model = problem.seen(problem.conductance, wide)
        change = judge.worst(model.steps(times_s) - before)
        if change < share:
            break
    return wide, change


def _chosen(
    models: list[Model],
    judges: list[Judge],
    first: int,
    rates: tuple[float, float],
    accuracy: float,
) -> tuple[Array, list[float]]:
    """Combinations of the patterns at hand that suffice, and their error in each situation.

    The ``first`` ones are always among them.
    """
    fixed = np.eye(len(models[0].capacitance))[:, :first]
    more = _by_weight(models, judges, fixed, rates)
    times_s = [_times_s(model, rates[1]) for model in models]
    steps = [model.steps(times) for model, times in zip(models, times_s, strict=True)]
    stride = max(1, first // 8)
    for added in range(0, more.shape[1] + stride, stride):
        chosen = np.linalg.qr(np.hstack((fixed, more[:, :added])))[0]
        errors = [
            judge.worst(model.onto(chosen).steps(times) - step)
            for model, judge, times, step in zip(models, judges, times_s, steps, strict=True)
        ]
        if errors[0] < accuracy and max(errors) < LOOSER * accuracy:
            break
    return chosen, errors


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
