"""The sum of a matrix's rows, each times a weight: what the plant spends its time on."""

import numpy as np
from numpy.typing import NDArray

from derate.plant.kernel import inlined

Array = NDArray[np.float64]


@inlined
def weighted_sum(weights: Array, matrix: Array, first: int, out: Array) -> None:
    """out_j = sum over k of weights_k matrix_k,first+j, in the order of k.

    Four rows at a time, so that ``out`` is read and written less often; columns side by side can
    be added at once by the machine.
    """
    rows, columns = weights.shape[0], out.shape[0]
    for j in range(columns):
        out[j] = 0.0
    fours = rows // 4
    for four in range(fours):
        k = 4 * four
        one, two, three, last = weights[k], weights[k + 1], weights[k + 2], weights[k + 3]
        for j in range(columns):
            out[j] = (
                out[j]
                + one * matrix[k, first + j]
                + two * matrix[k + 1, first + j]
                + three * matrix[k + 2, first + j]
                + last * matrix[k + 3, first + j]
            )
    for k in range(4 * fours, rows):
        one = weights[k]
        for j in range(columns):
            out[j] += one * matrix[k, first + j]
