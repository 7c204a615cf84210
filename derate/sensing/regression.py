"""Least squares of 1/T against ln R, each row weighed so that kelvin are what is made small.

An error e of 1/T is an error T^2 e of the temperature; the sum of (T^2 e)^2 is the least.
"""

from typing import NamedTuple

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from derate.sensing.ntc import KELVIN_AT_0_C

Array = NDArray[np.float64]

POWERS = {"b-value": (0, 1), "steinhart-hart": (0, 1, 3), "polynomial": (0, 1, 2, 3)}
"""Powers of ln R in each model."""


class Regression(NamedTuple):
    """A fitted ``curve``, 1/T [1/K] against ln R.

    ``foretold_k`` [K]: rms error at which each row is foretold by the fit to all others, infinite
    with no row to spare.
    """

    curve: Polynomial
    foretold_k: float


def regression(model: str, celsius: Array, ohm: Array) -> Regression:
    """The fit of a model of ``POWERS`` to rows [degC], [ohm], at least as many as its terms."""
    kelvin = celsius + KELVIN_AT_0_C
    log_ohm = np.log(ohm)
    powers = POWERS[model]
    scale = float(np.max(np.abs(log_ohm))) or 1.0
    terms = np.column_stack([(log_ohm / scale) ** n for n in powers]) * kelvin[:, None] ** 2
    q, r = np.linalg.qr(terms)
    found = np.linalg.solve(r, q.T @ kelvin)
    off_k = kelvin - terms @ found
    coefficients = np.zeros(max(powers) + 1)
    coefficients[list(powers)] = found / scale ** np.array(powers, float)
    own = np.sum(q * q, axis=1)
    spare = len(celsius) > len(powers)
    foretold = off_k / np.maximum(1.0 - own, np.finfo(float).eps)
    return Regression(
        Polynomial(coefficients), float(np.sqrt(np.mean(foretold**2))) if spare else np.inf
    )
