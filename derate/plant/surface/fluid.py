"""Air and liquid water at 1 atm: what convection needs to know of them.

Each property is a Chebyshev polynomial in the film temperature, fitted to CoolProp's equations of
state (relative error below 5e-4, tests/plant/surface/test_fluid.py compares and
tests/plant/surface/fluid_fit.py fits anew). The library itself is not asked at run time: importing
it takes far longer than all that is computed here.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

KELVIN: Final = 273.15
"""0 degC on the absolute scale [K]."""


class Properties(NamedTuple):
    """Of a fluid at its film temperature: k [W/(m K)], nu [m^2/s], Pr [-], beta [1/K], rho."""

    conductivity_w_per_m_k: Array
    viscosity_m2_per_s: Array
    prandtl: Array
    expansion_per_k: Array
    density_kg_per_m3: Array

    @property
    def capacity_j_per_m3_k(self) -> Array:
        """Heat that warms a volume by a kelvin [J/(m^3 K)], Pr k / nu."""
        return np.asarray(self.prandtl * self.conductivity_w_per_m_k / self.viscosity_m2_per_s)


class Fluid(NamedTuple):
    """A fluid; ``range_c``: film temperatures of its polynomials [degC].

    ``expands_from_c``: below it the coefficient of expansion keeps its value. Water contracts up
    to 4 degC and moves by itself above and below; its expansion at 6 degC is less than what drives
    it at either side of the turning point, so that cold water cools rather better than computed.
    ``coefficients``: one row for each property.
    """

    name: str
    range_c: tuple[float, float]
    expands_from_c: float
    coefficients: Array

    def at(self, film_c: Array | float) -> Properties:
        """Properties at film temperatures [degC], those of the nearest end outside the range."""
        low_c, high_c = self.range_c
        inside_c = np.clip(film_c, low_c, high_c)
        x = _scaled(inside_c, low_c, high_c)
        expanding = _scaled(np.maximum(inside_c, self.expands_from_c), low_c, high_c)
        k, nu, pr, beta, rho = self.coefficients
        value = np.polynomial.chebyshev.chebval
        return Properties(
            value(x, k), value(x, nu), value(x, pr), value(expanding, beta), value(x, rho)
        )


def _scaled(film_c: Array, low_c: float, high_c: float) -> Array:
    return (2.0 * film_c - low_c - high_c) / (high_c - low_c)


def _rows(text: str) -> Array:
    """Coefficients, one row for each property."""
    return np.array(text.split(), dtype=float).reshape(len(Properties._fields), -1)


_AIR = """
    0.03439398 0.01410617 -0.0006142593 6.813713e-05 -7.598401e-06
        7.918687e-07 -5.704628e-08 -3.587491e-09 3.139288e-09
    3.083627e-05 2.449019e-05 2.035882e-06 -8.604748e-08 9.147603e-09
        -1.051201e-09 1.286963e-10 -1.574443e-11 1.944586e-12
    0.705964 -0.007569612 0.007712996 -0.001005918 -5.315323e-06
        -1.940443e-05 1.955266e-05 -6.586022e-06 1.605694e-06
    0.002730018 -0.00145902 0.000391497 -0.0001055255 2.858615e-05
        -7.771034e-06 2.118049e-06 -5.57537e-07 1.347889e-07
    0.961311 -0.511671 0.1364131 -0.03643517 0.009750837
        -0.002610294 0.0006981335 -0.0001799709 4.25186e-05
"""
_WATER = """
    0.6288324 0.05940107 -0.01204747 0.001242086 -0.0003337614
        9.896123e-05 -2.566809e-05 5.845029e-06 -1.350845e-06
    7.719227e-07 -6.586895e-07 2.420735e-07 -8.094721e-08 2.59559e-08
        -8.081064e-09 2.439196e-09 -6.830756e-10 1.601958e-10
    5.374481 -5.10827 2.026593 -0.7225585 0.2459858
        -0.081052 0.02579544 -0.007550164 0.001805594
    0.0004040328 0.0003895886 -5.771234e-05 1.775932e-05 -4.613834e-06
        1.301433e-06 -3.594119e-07 9.366627e-08 -2.68541e-08
    983.6951 -21.21851 -4.456579 0.4847433 -0.1009655
        0.02100278 -0.004912028 0.00113943 -0.0002811993
"""
AIR: Final = Fluid("air", (-60.0, 360.0), -60.0, _rows(_AIR))
WATER: Final = Fluid("water", (0.01, 99.9), 6.0, _rows(_WATER))
FLUIDS: Final = {fluid.name: fluid for fluid in (AIR, WATER)}
