"""How white a mixture is: correlated colour temperature and the distance from Planck's locus.

Both are found in the CIE 1960 diagram, u = u', v = 2/3 v', where the correlated colour
temperature is that of the nearest point of the locus (CIE 015:2018, section 9.5), and Duv is the
distance to it, positive above the locus (ANSI C78.377). The locus is that of a black body,

    S(w, T) = w^-5 / (exp(c2 / (w T)) - 1),    c2 = 0.014388 m K
"""

import functools
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.observer import observer
from derate.lamp.spectrum import NM
from derate.plant.tristimulus import uv_of

Array = NDArray[np.float64]

C2_M_K = 0.014388
"""Second radiation constant of the International Temperature Scale of 1990 [m K]."""
MOST_DUV = 0.05
"""No colour temperature is told farther from the locus (CIE 015:2018, section 9.5)."""
LEAST_K, MOST_K = 1000.0, 50_000.0
STEPS = 200
PER_U_PRIME = np.array([1.0, 2.0 / 3.0])


class White(NamedTuple):
    """Correlated colour temperature [K] and Duv [-] of a white."""

    cct_k: float
    duv: float


def white_of(uv: Array) -> White | None:
    """The white that chromaticity u', v' (2) is; None farther than 0.05 from the locus."""
    from scipy.optimize import minimize_scalar

    if not np.isfinite(uv).all():
        return None
    at = uv * PER_U_PRIME
    mired, locus = _locus()
    nearest = int(np.argmin(np.hypot(*(locus - at).T)))
    bounds = (mired[max(nearest - 1, 0)], mired[min(nearest + 1, STEPS - 1)])
    found = minimize_scalar(
        lambda one: float(np.hypot(*(_planck(1e6 / one) - at))),
        bounds=bounds,
        method="bounded",
        options={"xatol": 1e-6},
    )
    cct_k, away = 1e6 / float(found.x), float(found.fun)
    if away > MOST_DUV or not LEAST_K * 1.001 < cct_k < MOST_K * 0.999:
        return None
    return White(cct_k, away if at[1] >= _planck(cct_k)[1] else -away)


@functools.cache
def _locus() -> tuple[Array, Array]:
    """Points of the locus: reciprocal temperatures [1e-6 / K] and u, v (n, 2)."""
    mired = np.linspace(1e6 / MOST_K, 1e6 / LEAST_K, STEPS)
    return mired, np.array([_planck(1e6 / one) for one in mired])


def _planck(temperature_k: float) -> Array:
    """CIE 1960 u, v (2) of a black body."""
    wavelength_nm, matching = observer()
    at_m = wavelength_nm * NM
    power = (wavelength_nm / 560.0) ** -5 / np.expm1(C2_M_K / (at_m * temperature_k))
    return np.asarray(uv_of(power @ matching) * PER_U_PRIME)
