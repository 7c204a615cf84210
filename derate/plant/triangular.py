"""Equations with a lower triangular matrix, solved without threads.

The usual routine spreads even a dozen equations over all processors, which costs more than they do.
Zeros of the matrix leave zeros of the right-hand side exact.
"""

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled

Array = NDArray[np.float64]


@compiled
def forward(lower: Array, right: Array) -> Array:
    """X of ``lower`` X = ``right`` (n, m)."""
    x = right.copy()
    for i in range(len(lower)):
        for k in range(i):
            if lower[i, k] != 0.0:
                x[i] -= lower[i, k] * x[k]
        x[i] /= lower[i, i]
    return x


@compiled
def backward(lower: Array, right: Array) -> Array:
    """X of ``lower``^T X = ``right`` (n, m)."""
    x = right.copy()
    for i in range(len(lower) - 1, -1, -1):
        x[i] /= lower[i, i]
        for k in range(i):
            if lower[i, k] != 0.0:
                x[k] -= lower[i, k] * x[i]
    return x
