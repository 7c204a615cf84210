"""Eigenvalues of a symmetric positive matrix, the small ones as exact as the large."""

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled

Array = NDArray[np.float64]

MOST_SWEEPS = 60
"""Sweeps before giving up; convergence is quadratic and takes about ten."""
NEARLY_DIAGONAL = 1e-16
"""An element this small against the diagonal [-] is rounding."""


@compiled
def eigen(matrix: Array) -> tuple[Array, Array]:
    """Eigenvalues and eigenvectors (columns) of a symmetric positive matrix, by Jacobi rotations.

    Slower than the usual routine, but small eigenvalues keep their relative accuracy beside large
    ones: with junctions of milliseconds and a heat sink of an hour they differ by 1e7, and the
    usual routine would leave the steady state that much less exact.
    """
    a, size = matrix.copy(), matrix.shape[0]
    basis = np.eye(size)
    for _ in range(MOST_SWEEPS):
        turned = False
        for i in range(size - 1):
            for j in range(i + 1, size):
                if abs(a[i, j]) <= NEARLY_DIAGONAL * np.sqrt(abs(a[i, i] * a[j, j])):
                    continue
                turned = True
                _turn(a, basis, i, j)
        if not turned:
            break
    return np.diag(a).copy(), basis


@compiled
def _turn(a: Array, basis: Array, i: int, j: int) -> None:
    """Rotate rows and columns i and j of ``a`` so that a[i, j] vanishes."""
    theta = (a[j, j] - a[i, i]) / (2.0 * a[i, j])
    t = (1.0 if theta >= 0.0 else -1.0) / (abs(theta) + np.sqrt(theta * theta + 1.0))
    c = 1.0 / np.sqrt(t * t + 1.0)
    s = t * c
    a[i, i], a[j, j] = a[i, i] - t * a[i, j], a[j, j] + t * a[i, j]
    a[i, j] = a[j, i] = 0.0
    for k in range(a.shape[0]):
        if k not in (i, j):
            one, other = a[k, i], a[k, j]
            a[k, i] = a[i, k] = c * one - s * other
            a[k, j] = a[j, k] = s * one + c * other
        one, other = basis[k, i], basis[k, j]
        basis[k, i], basis[k, j] = c * one - s * other, s * one + c * other
