"""Duties that hold the colour of a mix: as much light as the requests allow, at the asked mixture.

With X, Y, Z of each channel per unit of its duty, S = X + Y + Z, and the asked chromaticity x, y,

    most sum Y_c d_c   with   |sum (X_c - x S_c) d_c| <= e sum S_c d_c,
                              |sum (Y_c - y S_c) d_c| <= e sum S_c d_c,   0 <= d_c <= request_c

a linear programme. e is the least with which there is light: 0 with three channels whose colours
stand around what is asked, more with two that no longer stand in one line with it.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog, nnls

from derate.study.tristimulus import xy_of

Array = NDArray[np.float64]

SLACK = 1e-9
"""Added to e, so that rounding does not make the programme impossible."""
WEIGHT = 1e3
"""How much more the one unit of S counts than the miss where e is looked for."""


def holding_duties(per_duty: Array, asked: Array, requests: Array) -> Array:
    """Duties (C) [0..1] of the brightest mix of the colour of ``asked`` (3), X, Y, Z.

    ``per_duty`` (C, 3): X, Y, Z of each channel at full duty; ``requests`` (C): the most duty.
    """
    sums = per_duty.sum(axis=1)
    misses = per_duty[:, :2] - sums[:, None] * xy_of(asked)
    exact = _least_miss(misses, sums) + SLACK
    bounds = np.concatenate((misses - exact * sums[:, None], -misses - exact * sums[:, None]), 1)
    found = linprog(
        -per_duty[:, 1],
        A_ub=bounds.T,
        b_ub=np.zeros(4),
        bounds=list(zip(np.zeros(len(requests)), requests, strict=True)),
        method="highs",
    )
    return np.zeros(len(requests)) if found.x is None else np.asarray(found.x)


def _least_miss(misses: Array, sums: Array) -> float:
    """The least larger miss of x and y that a mixture of the channels can have.

    Least squares over mixtures of one unit of S, all parts positive.
    """
    shares = misses / sums[:, None]
    rows = np.vstack((shares.T, np.full(len(sums), WEIGHT)))
    parts, _ = nnls(rows, np.array([0.0, 0.0, WEIGHT]))
    return float(np.abs(parts / parts.sum() @ shares).max())
