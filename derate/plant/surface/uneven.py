"""How far a surface is from being evenly warm, where that matters for what it sheds.

Beside its mean the temperature of a face of a board follows a few patterns over it,

    T = mean + sum of x_k phi_k,    <phi_k> = 0,    <phi_k phi_l> = 1 if k = l, else 0

with < > the mean over the face and x_k [K]. With w (n) the share of each node in the mean and M (n,
n) that in the mean square, phi_k = V_k - <V_k> for temperatures V_k of the nodes, and x_k = p_k^T T
with p_k = (M - w w^T) V_k. What is shed as u T + e T^2 enters the nodes as

    w (u mean + e sum of x_k^2) + sum of p_k (u x_k + e sum of <phi_k phi_j phi_l> x_j x_l)

for u counted per face and T from its mean.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CURVED = 4
"""Of so many patterns of a face, the strongest, products count; of all of them squares do."""


@dataclass(frozen=True, eq=False)
class Uneven:
    """Patterns p (P, n) [-], the strongest first, and the means of products of the first R of them,
    <phi_k phi_j phi_l> (R, R, R) [-]."""

    patterns: Array
    cubes: Array

    @property
    def none(self) -> "Uneven":
        """No patterns, of as many nodes."""
        return Uneven(self.patterns[:0], np.zeros((0, 0, 0)))


def uneven_of(area_m2: Array, shape: Array, warm: Array, least: float) -> Uneven:
    """The patterns of a face whose temperatures are mostly combinations of ``warm`` (n, m).

    ``area_m2`` (M): of cells, whose temperatures are ``shape`` (M, n) times those of nodes;
    ``warm``: scaled so that a pattern counts where its mean square over the face passes ``least``.
    """
    there = area_m2 > 0.0
    share, shape = area_m2[there] / area_m2.sum(), shape[there]
    weight = share @ shape
    felt = (shape - weight) @ warm
    square, turn = np.linalg.eigh(felt.T @ (share[:, None] * felt))
    kept = np.flatnonzero(square > least)[::-1]
    phi = felt @ (turn[:, kept] / np.sqrt(square[kept]))
    patterns = (share[:, None] * phi).T @ shape
    patterns -= np.outer(share @ phi, weight)
    strong = phi[:, :CURVED]
    cubes = np.einsum("c,ck,cj,cl->kjl", share, strong, strong, strong)
    return Uneven(patterns, cubes)


def together(surfaces: int, uneven: Sequence[Uneven]) -> tuple[NDArray[np.int64], Array]:
    """Where the patterns of each surface begin (S + 1), and their cubes (P, CURVED, CURVED).

    ``uneven``: of the last surfaces. Cubes that do not count are zero.
    """
    counts = [0] * (surfaces - len(uneven)) + [len(each.patterns) for each in uneven]
    cubes = np.zeros((sum(counts), CURVED, CURVED))
    begin = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    for first, each in zip(begin[surfaces - len(uneven) : surfaces], uneven, strict=True):
        many = len(each.cubes)
        cubes[first : first + many, :many, :many] = each.cubes
    return begin, cubes
