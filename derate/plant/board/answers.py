"""What cells answer to steady heat: sparse factors of their equations, two at a time."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import scipy.sparse as sparse
import scipy.sparse.linalg as solving
from numpy.typing import NDArray

Array = NDArray[np.float64]

AT_ONCE = 2
"""Factors that are made at the same time: each needs some tens of megabytes."""


def factors(matrix: sparse.csc_array) -> solving.SuperLU:
    """Factors of a symmetric positive matrix."""
    return solving.splu(
        sparse.csc_matrix(matrix),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def answers_of(
    matrices: Sequence[sparse.csc_array], inputs: Array, deep: Sequence[int]
) -> list[Array]:
    """For each matrix A the answers A^-1 b, A^-2 b, ... (M, deep m) to inputs b (M, m)."""

    def answer(matrix: sparse.csc_array, powers: int) -> Array:
        solve = factors(matrix).solve
        found = [solve(inputs)]
        for _ in range(powers - 1):
            found.append(solve(found[-1]))
        return np.hstack(found)

    with ThreadPoolExecutor(AT_ONCE) as together:
        return list(together.map(answer, matrices, deep))
