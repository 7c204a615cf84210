"""What cells answer to steady heat: sparse factors of their equations."""

import numpy as np
import scipy.sparse as sparse
import scipy.sparse.linalg as solving
from numpy.typing import NDArray

Array = NDArray[np.float64]

PANEL = 2
"""Columns that are factored together: few, as those of boards have little in common."""


def factors(matrix: sparse.csc_array) -> solving.SuperLU:
    """Factors of a symmetric positive matrix."""
    return solving.splu(
        sparse.csc_matrix(matrix),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        panel_size=PANEL,
        options={"SymmetricMode": True},
    )


def answers_of(
    matrix: sparse.csc_array, inputs: Array, deep: int, between: Array | float = 1.0
) -> list[Array]:
    """The answers A^-1 b, A^-1 D A^-1 b, ... (M, m), ``deep`` of them, to inputs b (M, m).

    ``between``: the diagonal of D (M).
    """
    solve, weight = factors(matrix).solve, np.reshape(between, (-1, 1))
    found = [solve(inputs)]
    for _ in range(deep - 1):
        found.append(solve(weight * found[-1]))
    return found
