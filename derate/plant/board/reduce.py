"""From thousands of cells to a few dozen patterns that answer alike at the nodes that are kept.

The temperatures of all cells are sought as a combination of a few patterns V: T = V z. Projecting
the cells' equations onto V keeps them symmetric and positive, so that the small network is passive
and stable whatever it is joined to. V always holds

    the uniform temperature, and the steady answer G^-1 b to heat in each kept node and face,

which makes the small network's steady state and its mean delays those of the cells, and as many
more patterns as the transients need. These come from answers (G + s C)^-1 b at rates s, from the
slowest to the fastest that matter, until those at a rate not yet used are foreseen well; and from
steady answers with the interface degraded. Of them the ones that weigh most in the error are kept.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
import scipy.sparse as sparse
import scipy.sparse.linalg as solving
from numpy.typing import NDArray

from derate.plant.board.model import Judge, Model

Array = NDArray[np.float64]

FINER = 0.1
"""The patterns to choose from foresee a rate not used this much better [-] than is asked."""
NEGLIGIBLE = 1e-10
"""A pattern of which less [-] is left beside the others is one of them."""
RATES = (0.5, 1.0, 0.25, 0.0, 0.75, 0.375, 0.875, 0.125, 0.625)
"""Rates are tried in this order, as shares of the way from the slowest to the fastest."""
LOOSER = 3.0
"""With the interface degraded the error may be this much larger [-]."""
FASTER = 3.0
"""The fastest rate over that at which the quickest node begins to rise [-]."""
INSTANTS, SHORTEST, LONGEST = 48, 0.02, 5.0
"""Instants compared, from a share of the quickest to a multiple of the slowest time."""
WEIGHED = 16
"""Rates at which the error of the patterns chosen is weighed."""


@dataclass(frozen=True)
class Reduction:
    """What the small network leaves out, as shares of the steady rise.

    ``order``: nodes; ``steady``: largest error of steady rises; ``transient``: of step answers at
    any instant; ``frequency``: of the patterns to choose from, at a rate they were not made for;
    ``degraded``: of step answers with the interface degraded.
    """

    order: int
    steady: float
    transient: float
    frequency: float
    degraded: float


@dataclass(frozen=True, eq=False)
class Problem:
    """Cells to be reduced.

    ``capacitance`` (M), ``conductance`` (M, M) of the reference exchange and, in ``degraded``, of
    other situations; ``inputs`` (M, m): kept nodes and faces; ``judge``'s shares count for the
    reference exchange.
    """

    capacitance: Array
    conductance: sparse.csc_array
    degraded: tuple[sparse.csc_array, ...]
    inputs: Array
    heated: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...]


def factors(matrix: sparse.csc_array) -> solving.SuperLU:
    """Factors of a symmetric positive matrix."""
    return solving.splu(
        sparse.csc_matrix(matrix),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def orthonormal(patterns: Array, weight: Array, beside: Array | None = None) -> Array:
    """Patterns (M, n) made orthonormal by ``weight`` (M), and orthogonal to those ``beside``."""
    root = np.sqrt(weight)[:, None]
    scaled = patterns * root
    scaled /= np.linalg.norm(scaled, axis=0)
    if beside is not None:
        other = beside * root
        for _ in range(2):
            scaled -= other @ (other.T @ scaled)
    tall, triangle = np.linalg.qr(scaled)
    turn, left, _ = dense.qr(triangle, pivoting=True)
    return (tall @ turn[:, np.abs(np.diag(left)) > NEGLIGIBLE]) / root


def patterns_of(problem: Problem, accuracy: float) -> tuple[Array, Reduction]:
    """Patterns (M, n), and what they leave out."""
    steady = factors(problem.conductance).solve(problem.inputs)
    rise = problem.inputs.T @ steady
    judge = Judge(rise, problem.heated, problem.groups)
    rates = _rates(problem, rise)
    wide, unforeseen = _many(problem, judge, steady, rates, FINER * accuracy)
    models = [_seen(problem, each, wide) for each in (problem.conductance, *problem.degraded)]
    judges = [Judge(model.rise(), problem.heated, problem.groups) for model in models]
    uniform = wide.T @ problem.capacitance
    chosen, errors = _chosen(models, judges, uniform, rates, accuracy)
    error = judge.worst(models[0].onto(chosen).rise() - rise)
    reduction = Reduction(chosen.shape[1], error, errors[0], unforeseen, max(errors[1:], default=0))
    return wide @ chosen, reduction


def _rates(problem: Problem, rise: Array) -> tuple[float, float]:
    """The slowest rate, that of the whole board, and the fastest of interest [1/s]."""
    shed = float(problem.conductance.sum())
    slope = (problem.inputs**2 / problem.capacitance[:, None]).sum(axis=0)
    quickest = float((slope / np.diag(rise))[list(problem.heated)].max())
    return shed / float(problem.capacitance.sum()), FASTER * quickest


def _seen(problem: Problem, conductance: sparse.csc_array, patterns: Array) -> Model:
    """The cells seen through patterns orthonormal by capacity."""
    return Model(
        np.eye(patterns.shape[1]),
        patterns.T @ (conductance @ patterns),
        patterns.T @ problem.inputs,
    )


def _many(
    problem: Problem, judge: Judge, steady: Array, rates: tuple[float, float], share: float
) -> tuple[Array, float]:
    """Patterns to choose from, and their error at a rate they were not made for."""
    capacitance, unforeseen = problem.capacitance, math.inf
    wide = orthonormal(np.hstack((np.ones((len(steady), 1)), steady)), capacitance)
    for matrix in problem.degraded:
        changed = factors(matrix).solve(problem.inputs)
        wide = np.hstack((wide, orthonormal(changed, capacitance, wide)))
    for way in RATES:
        rate = rates[0] * (rates[1] / rates[0]) ** way
        faster = sparse.csc_array(problem.conductance + sparse.diags_array(rate * capacitance))
        answer = factors(faster).solve(problem.inputs)
        foreseen = _seen(problem, problem.conductance, wide).rise(rate)
        unforeseen = judge.worst(problem.inputs.T @ answer - foreseen)
        wide = np.hstack((wide, orthonormal(answer, capacitance, wide)))
        if unforeseen < share:
            break
    return wide, unforeseen


def _chosen(
    models: list[Model],
    judges: list[Judge],
    uniform: Array,
    rates: tuple[float, float],
    accuracy: float,
) -> tuple[Array, list[float]]:
    """Combinations of the patterns at hand that suffice, and their error in each situation."""
    whole, even = models[0], np.ones(len(uniform))
    fixed = orthonormal(np.column_stack((uniform, whole.answer(0.0))), even)
    more = _by_weight(models, judges, fixed, rates)
    reference = []
    for model in models:
        slowest = dense.eigh(model.conductance, model.capacitance, eigvals_only=True)[0]
        times_s = np.geomspace(SHORTEST / rates[1], LONGEST / slowest, INSTANTS)
        reference.append((times_s, model.steps(times_s)))
    stride = max(1, len(whole.inputs.T) // 8)
    for added in range(0, more.shape[1] + stride, stride):
        chosen = np.linalg.qr(np.hstack((fixed, more[:, :added])))[0]
        errors = [
            judge.worst(model.onto(chosen).steps(times_s) - steps)
            for model, judge, (times_s, steps) in zip(models, judges, reference, strict=True)
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
            left_out.append(missing / np.sqrt(np.diag(judge.steady)))
    middle = math.sqrt(rates[0] * rates[1])
    root = np.linalg.cholesky(models[0].conductance + middle * models[0].capacitance).T
    patterns, weight, _ = np.linalg.svd(root @ np.hstack(left_out), full_matrices=False)
    return dense.solve_triangular(root, patterns[:, weight > NEGLIGIBLE * weight[0]])
