"""Rows of the linear programme of the possible, laid slot by slot."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

Array = NDArray[np.float64]

NOTHING: Final = 1e-12
"""Coefficients below are left out: they are rounding, and solvers stumble over them."""


class Rows:
    """Rows of a sparse matrix, block by block; a block may reach into the slot before."""

    def __init__(self, width: int) -> None:
        self.width, self.count = width, 0
        self.rows: list[NDArray[np.intp]] = []
        self.columns: list[NDArray[np.intp]] = []
        self.values: list[Array] = []
        self.right: list[Array] = []

    def add(self, k: int, block: Array, right: Array, earlier: Array | None = None) -> None:
        """Rows of slot k, what they are equal to or below, and their part in the slot before."""
        for one, slot in ((block, k), (earlier, k - 1)):
            if one is not None:
                row, column = np.nonzero(np.abs(one) > NOTHING)
                self.rows.append(row + self.count)
                self.columns.append(column + slot * self.width)
                self.values.append(one[row, column])
        self.right.append(right)
        self.count += len(right)

    def done(self, slots: int) -> tuple[Any, Array]:
        """The matrix, sparse, and the right side."""
        where = (np.concatenate(self.rows), np.concatenate(self.columns))
        shape = (self.count, slots * self.width)
        values = np.concatenate(self.values)
        return csr_array((values, where), shape=shape), np.concatenate(self.right)
