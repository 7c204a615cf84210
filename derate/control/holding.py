"""Duties that hold the colour of a mix: as much light as the requests allow, at the asked mixture.

With X, Y, Z of each channel per unit of its duty, D = X + 15 Y + 3 Z, and u', v' asked,

    most sum Y_c d_c   with   |sum (4 X_c - u' D_c) d_c| <= e_u sum D_c d_c,
                              |sum (9 Y_c - v' D_c) d_c| <= e_v sum D_c d_c,   0 <= d_c <= request_c

a linear programme. e is how far the nearest mixture of these channels is from what is asked: 0 with
three channels whose colours stand around it, more with two that do not stand in one line with it.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.tristimulus import uv_of

Array = NDArray[np.float64]

SLACK = 1e-9
"""Added to e, so that rounding does not make the programme impossible."""
WEIGHT = 1e3
"""How much more it counts that the parts of a mixture add up to 1 than how near it comes."""


def holding_duties(per_duty: Array, asked: Array, requests: Array) -> Array:
    """Duties (C) [0..1] of the brightest mix of the colour of ``asked`` (3), X, Y, Z.

    ``per_duty`` (C, 3): X, Y, Z of each channel at full duty; ``requests`` (C): the most duty.
    """
    from scipy.optimize import linprog

    weights = per_duty @ np.array([1.0, 15.0, 3.0])
    misses = uv_of(per_duty) - uv_of(asked)
    nearest = np.abs(_nearest(misses) @ misses) + SLACK
    bounds = weights[:, None] * np.concatenate((misses - nearest, -misses - nearest), axis=1)
    found = linprog(
        -per_duty[:, 1],
        A_ub=bounds.T,
        b_ub=np.zeros(4),
        bounds=list(zip(np.zeros(len(requests)), requests, strict=True)),
        method="highs",
    )
    return np.zeros(len(requests)) if found.x is None else np.asarray(found.x)


def _nearest(misses: Array) -> Array:
    """Parts (C) in units of D of the mixture that comes nearest: least squares, none below 0."""
    from scipy.optimize import nnls

    rows = np.vstack((misses.T, np.full(len(misses), WEIGHT)))
    parts, _ = nnls(rows, np.array([0.0, 0.0, WEIGHT]))
    return np.asarray(parts / parts.sum())
