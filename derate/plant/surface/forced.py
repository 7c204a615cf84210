"""Forced convection along a plate, and its meeting with natural convection.

Symbols: Re = speed L / nu with L along the flow; Nu = h L / k; properties at the film temperature.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface.fluid import Properties

Array = NDArray[np.float64]

TRANSITION_REYNOLDS: Final = 5e5
PLATE_REYNOLDS: Final = 1e8
"""Highest Re of the mixed branch [-]."""


def plate(reynolds: Array | float, prandtl: Array | float) -> Array:
    """Mean Nu [-] of an isothermal plate along the flow, laminar from its edge, then turbulent.

        Nu = 0.664 Re^(1/2) Pr^(1/3)               Re < 5e5
        Nu = (0.037 Re^(4/5) - 871) Pr^(1/3)       5e5 < Re < 1e8, tending to wholly turbulent

    0.6 < Pr < 60. Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer,
    eqs. 7.30 and 7.38 of later editions; from memory. A blunt edge or rough flow trips the layer
    earlier and sheds more.
    """
    re = np.asarray(reynolds)
    laminar = 0.664 * np.sqrt(re)
    mixed = 0.037 * re**0.8 - 871.0
    return np.asarray(np.where(re < TRANSITION_REYNOLDS, laminar, mixed) * np.cbrt(prandtl))


def plate_w_per_m2_k(fluid: Properties, speed_m_per_s: Array | float, length_m: float) -> Array:
    """Film coefficient h [W/(m^2 K)] of a plate ``length_m`` [m] along the flow."""
    nusselt = plate(speed_m_per_s * length_m / fluid.viscosity_m2_per_s, fluid.prandtl)
    return np.asarray(nusselt * fluid.conductivity_w_per_m_k / length_m)


def together(natural: Array, forced: Array) -> Array:
    """Film coefficient of natural and forced convection that aid each other.

        h = (h_natural^3 + h_forced^3)^(1/3)

    Common practice (Churchill, AIChE J. 23 (1977) 10, exponent 3).
    """
    return np.asarray(np.cbrt(natural**3 + forced**3))
