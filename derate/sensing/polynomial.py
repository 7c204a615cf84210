"""A cubic in ln R, 1/T = a + b L + c L^2 + d L^3 with L = ln R, as one segment of a table.

The curve of a table is a cubic of 1/T against ln R in each segment, so that a single segment,
from 200 to -55 degC, is the polynomial exactly; beyond it goes on along its end slopes.
"""

import itertools
import math

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from derate.sensing.ntc import HIGHEST_C, KELVIN_AT_0_C, LOWEST_C, NEGLIGIBLE_C

LOG_OHM_LIMIT = 40.0
"""|ln R| beyond any part; larger ones come from a slip in the coefficients."""
REAL = 1e-9
"""Imaginary part below which a root counts as real, beside rounding."""


def segment(curve: Polynomial) -> NDArray[np.float64] | None:
    """The table of ``curve``, 1/T [1/K] against ln R; None where R does not fall all the way.

    Coefficients of 1 and more, or that are no numbers, come from a slip: None too.
    """
    if not np.all(np.abs(curve.coef) < 1.0):
        return None
    hot, cold = (1.0 / (at_c + KELVIN_AT_0_C) for at_c in (HIGHEST_C, LOWEST_C))
    slope = curve.trim(NEGLIGIBLE_C).deriv()
    turns = [-LOG_OHM_LIMIT, *_real_roots(slope), LOG_OHM_LIMIT]
    for low, high in itertools.pairwise(turns):
        if curve(low) < hot and cold < curve(high):
            ends = np.array([_root_between(curve, y, low, high) for y in (hot, cold)])
            return np.ascontiguousarray([ends, curve(ends), slope(ends)])
    return None


def _real_roots(curve: Polynomial) -> list[float]:
    roots = curve.roots()
    real = roots[np.abs(np.imag(roots)) <= REAL * np.abs(roots)]
    return sorted(float(x) for x in np.real(real) if abs(x) < LOG_OHM_LIMIT)


def _root_between(curve: Polynomial, value: float, low: float, high: float) -> float:
    from scipy.optimize import brentq

    tightest = 4.0 * math.ulp(1.0)
    return float(brentq(lambda x: float(curve(x)) - value, low, high, xtol=1e-13, rtol=tightest))
