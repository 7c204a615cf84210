"""Which tolerance matters most: how the variance of a figure splits among what was drawn.

A figure y of the units is expanded in the normalised Hermite polynomials of their scores, up to
the second degree,

    y = y0 + sum_j a_j z_j + sum_j b_j (z_j^2 - 1) / sqrt(2) + sum_{j<k} c_jk z_j z_k + rest.

The polynomials are orthonormal under independent standard normal scores, so that the square of a
coefficient is its part of the variance: the first-order index of a draw is the sum of the squares
of the terms with this draw alone, its total index that of all terms with it, each over the sum of
all squares and of the variance of the rest. The coefficients are those of least squares over the
units that were run anyhow; what the noise of an estimate adds to its square is taken off again.
Correlated draws of one group are made independent of each other first and count as one.

Source: Sudret 2008, Global sensitivity analysis using polynomial chaos expansions, Reliability
Engineering and System Safety 93, 964-979.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, stats

from derate.lamp.variation import Variation

Array = NDArray[np.float64]
MOST_UNITS = 10_000
"""Of more units than these, as many are looked at; the indices would hardly change."""
RESAMPLED = 60
"""Times that the units are drawn again from themselves to see how sure an index is."""
MOST_GROUPS = 100
"""They are drawn again in as many groups at most, whose sums are made once."""
MOST_TERMS = 300
"""With more terms than these, those of two draws are left out."""
UNITS_PER_TERM = 3
"""Least number of units for each term, so that a fit tells anything (common practice)."""
BAND = (0.025, 0.975)
FAINT = 1e-9
"""A figure that varies by less, as a share of its size, does not vary."""


@dataclass(frozen=True)
class Effect:
    """What one draw, or one group of correlated draws, does to a figure.

    ``first``: share of the variance that it brings alone [-]; ``total``: together with others, None
    where the units were too few to tell; ``low``, ``high``: 95 % band of ``first``;
    ``slopes``: of each of its draws by name, standard deviations of the figure for one of the draw;
    ``rank``: of each, the partial rank correlation [-1..1].
    """

    name: str
    first: float
    low: float
    high: float
    total: float | None
    slopes: dict[str, float]
    ranks: dict[str, float]


@dataclass(frozen=True)
class Importance:
    """Effects on one figure, the largest first.

    ``deviation``: its standard deviation, in its unit; ``explained``: share of its variance that
    the expansion explains [-].
    """

    deviation: float
    explained: float
    effects: tuple[Effect, ...]


@dataclass(frozen=True, eq=False)
class _Expansion:
    """Terms T of units U: ``terms`` (U, 1 + T), the first of them 1, and of which blocks (B, T)."""

    terms: Array
    touched: NDArray[np.bool_]
    crossed: bool


class _Sums(NamedTuple):
    """Over the units of each group: their number, sums of term x term, term x value, value^2."""

    units: Array
    squares: Array
    products: Array
    values: Array


def importance(
    value: Array, scores: Array, drawn: Sequence[Variation], seed: int = 0
) -> Importance | None:
    """How the variance of ``value`` (U) splits among draws with ``scores`` (U, P).

    None where the value does not vary, nothing was drawn, or there are too few units.
    """
    value, scores = value[:MOST_UNITS], scores[:MOST_UNITS]
    scale = float(np.std(value))
    if not scale > FAINT * max(1.0, float(np.abs(value).max(initial=0.0))) or not drawn:
        return None
    blocks = _blocks(drawn)
    expansion = _expansion(_independent(scores, drawn, blocks), blocks)
    if expansion is None:
        return None
    scaled = (value - value.mean()) / scale
    sums = _sums(expansion, scaled)
    first, total, explained = _indices(expansion, sums, np.ones(len(sums.units)))
    again, groups = np.random.default_rng(seed), len(sums.units)
    counts = again.multinomial(groups, np.full(groups, 1 / groups), size=RESAMPLED)
    bands = np.array([_indices(expansion, sums, count.astype(float))[0] for count in counts])
    low, high = np.quantile(bands, BAND, axis=0)
    slopes, ranks = _slopes(scores, scaled), _partial_ranks(scores, scaled)
    effects = [
        Effect(
            _name(rows, drawn),
            float(first[b]),
            float(low[b]),
            float(high[b]),
            float(total[b]) if expansion.crossed else None,
            {drawn[p].name: float(slopes[p]) for p in rows},
            {drawn[p].name: float(ranks[p]) for p in rows},
        )
        for b, rows in enumerate(blocks)
    ]
    effects.sort(key=lambda one: -max(one.first, one.total or 0.0))
    return Importance(scale, explained, tuple(effects))


def _blocks(drawn: Sequence[Variation]) -> list[list[int]]:
    """Columns of the scores that belong together: a correlated group, or one draw alone."""
    found: dict[str, list[int]] = {}
    for p, one in enumerate(drawn):
        together = one.group is not None and one.correlation > 0
        found.setdefault(f"group {one.group}" if together else one.name, []).append(p)
    return list(found.values())


def _name(rows: Sequence[int], drawn: Sequence[Variation]) -> str:
    if len(rows) == 1:
        return drawn[rows[0]].name
    return f"{drawn[rows[0]].group} ({', '.join(drawn[p].name for p in rows)})"


def _independent(scores: Array, drawn: Sequence[Variation], blocks: list[list[int]]) -> Array:
    """Scores whose correlation within each block is taken out; (U, Q), columns block by block.

    Draws in full correlation are one score.
    """
    columns = []
    for rows in blocks:
        r = drawn[rows[0]].correlation if len(rows) > 1 else 0.0
        if r >= 1.0:
            columns.append([scores[:, rows[0]]] + [np.zeros(len(scores))] * (len(rows) - 1))
            continue
        among = np.full((len(rows), len(rows)), r) + (1.0 - r) * np.eye(len(rows))
        root = np.linalg.cholesky(among)
        columns.append(list(linalg.solve_triangular(root, scores[:, rows].T, lower=True)))
    return np.stack([column for block in columns for column in block], axis=1)


def _expansion(scores: Array, blocks: list[list[int]]) -> _Expansion | None:
    """The terms beyond the constant; without those of two draws where units are few."""
    units, width = scores.shape
    owner = np.repeat(np.arange(len(blocks)), [len(rows) for rows in blocks])
    pairs = [(j, k) for j in range(width) for k in range(j + 1, width)]
    singles = 2 * width
    if units < UNITS_PER_TERM * (1 + singles):
        return None
    every = 1 + singles + len(pairs)
    crossed = units >= UNITS_PER_TERM * every and every <= MOST_TERMS
    used = pairs if crossed else []
    terms = [np.ones((units, 1)), scores, (scores**2 - 1.0) / np.sqrt(2.0)]
    terms += [scores[:, [j]] * scores[:, [k]] for j, k in used]
    touched = np.zeros((len(blocks), singles + len(used)), bool)
    touched[owner, np.arange(width)] = touched[owner, width + np.arange(width)] = True
    for t, (j, k) in enumerate(used):
        touched[[owner[j], owner[k]], singles + t] = True
    return _Expansion(np.concatenate(terms, axis=1), touched, crossed)


def _sums(expansion: _Expansion, scaled: Array) -> _Sums:
    """What least squares needs to know of each group of units."""
    parts = np.array_split(np.arange(len(scaled)), min(MOST_GROUPS, len(scaled)))
    terms = [expansion.terms[part] for part in parts]
    values = [scaled[part] for part in parts]
    return _Sums(
        np.array([len(part) for part in parts], float),
        np.array([some.T @ some for some in terms]),
        np.array([some.T @ value for some, value in zip(terms, values, strict=True)]),
        np.array([value @ value for value in values]),
    )


def _indices(expansion: _Expansion, sums: _Sums, weight: Array) -> tuple[Array, Array, float]:
    """First-order and total index of each block, and the share of the variance explained.

    ``weight``: how often each group of units counts.
    """
    inverse = linalg.pinvh(np.tensordot(weight, sums.squares, 1))
    products = weight @ sums.products
    fitted = inverse @ products
    left = max(float(weight @ sums.values - fitted @ products), 0.0)
    rest = left / max(float(weight @ sums.units) - len(fitted), 1.0)
    parts = (fitted**2 - rest * np.diag(inverse))[1:]
    explained = float(np.clip(parts.sum() / (parts.sum() + rest), 0.0, 1.0))
    parts /= parts.sum() + rest
    alone = expansion.touched.sum(axis=0) == 1
    first = (expansion.touched * alone) @ parts
    total = expansion.touched @ parts
    return np.clip(first, 0.0, 1.0), np.clip(total, 0.0, 1.0), explained


def _slopes(scores: Array, scaled: Array) -> Array:
    """Standardised regression coefficients, all draws together."""
    terms = np.concatenate((np.ones((len(scores), 1)), scores), axis=1)
    return np.asarray(np.linalg.lstsq(terms, scaled, rcond=None)[0][1:])


def _partial_ranks(scores: Array, scaled: Array) -> Array:
    """Correlation of the ranks of each draw and the value, the other draws' parts taken out."""
    ranks = stats.rankdata(np.column_stack((scores, scaled)), axis=0)
    together: Array = np.atleast_2d(np.corrcoef(ranks.T))
    inverse = linalg.pinvh(together)
    own = np.diag(inverse)
    return np.asarray(-inverse[:-1, -1] / np.sqrt(own[:-1] * own[-1]))
