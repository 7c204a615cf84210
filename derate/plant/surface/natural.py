"""Natural convection from plates: Nusselt numbers, and film coefficients from geometry.

Symbols: Nu = h L / k; Ra = g beta rise L^3 Pr / nu^2, properties at the film temperature, the mean
of surface and fluid. L is the height of an upright plate, area over perimeter of a lying one.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface.fluid import Properties

Array = NDArray[np.float64]

GRAVITY_M_PER_S2: Final = 9.81
VERTICAL_RAYLEIGH: Final = (0.1, 1e12)
UP_RAYLEIGH: Final = (1.0, 1.5e9)
DOWN_RAYLEIGH: Final = (1e5, 1e10)


def rayleigh(fluid: Properties, rise_k: Array | float, length_m: Array | float) -> Array:
    """Ra [-] of a length [m] at a temperature rise [K]."""
    drive = GRAVITY_M_PER_S2 * fluid.expansion_per_k * np.abs(rise_k)
    return drive * length_m**3 * fluid.prandtl / fluid.viscosity_m2_per_s**2


def vertical(rayleigh: Array | float, prandtl: Array | float) -> Array:
    """Nu [-] of an isothermal upright plate, laminar and turbulent in one.

        Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492 / Pr)^(9/16))^(8/27))^2

    Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323; 0.1 < Ra < 1e12, any Pr. Within
    7 % below their laminar equation at a lamp's size, above it for tall plates: by 15 % at 7e7.
    """
    shape = (1.0 + (0.492 / np.asarray(prandtl)) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.825 + 0.387 * np.asarray(rayleigh) ** (1 / 6) / shape) ** 2)


def up(rayleigh: Array | float) -> Array:
    """Nu [-] of a lying plate, hot side up (or cold side down); length is area / perimeter.

        Nu = max(0.96 Ra^(1/6), 0.54 Ra^(1/4), 0.15 Ra^(1/3))

    Each branch acts where it is the largest: that of small plates below Ra = 1e3 (Goldstein,
    Sparrow & Jones, Int. J. Heat Mass Transfer 16 (1973) 1025, to 200), laminar up to 4.7e6 and
    turbulent above (Lloyd & Moran, J. Heat Transfer 96 (1974) 443: 2e4 to 8e6 to 1.6e9); from
    memory. Sources change to the turbulent branch between 8e6 and 2e7, with a jump; the largest of
    all neither jumps nor falls, and lies up to 13 % above a source that is still laminar there.
    """
    ra = np.asarray(rayleigh)
    small, laminar, turbulent = 0.96 * ra ** (1 / 6), 0.54 * ra**0.25, 0.15 * ra ** (1 / 3)
    return np.asarray(np.maximum(np.maximum(small, laminar), turbulent))


def down(rayleigh: Array | float) -> Array:
    """Nu [-] of a lying plate, hot side down (or cold side up); length is area / perimeter.

        Nu = 0.27 Ra^(1/4)

    McAdams, Heat Transmission, 3rd ed. 1954; 1e5 < Ra < 1e10. Smaller plates are computed alike and
    shed rather more than that, since the warm air need not go far to their edge.
    """
    return np.asarray(0.27 * np.asarray(rayleigh) ** 0.25)


def plate_w_per_m2_k(
    fluid: Properties, rise_k: Array | float, facing: str, height_m: float, lying_m: float
) -> Array:
    """Film coefficient h [W/(m^2 K)] of one face that looks ``facing`` "side", "up" or "down".

    ``height_m``: along the upright flow; ``lying_m``: area over perimeter.
    """
    length_m = height_m if facing == "side" else lying_m
    ra = rayleigh(fluid, rise_k, length_m)
    if facing == "side":
        nusselt = vertical(ra, fluid.prandtl)
    else:
        nusselt = up(ra) if facing == "up" else down(ra)
    return np.asarray(nusselt * fluid.conductivity_w_per_m_k / length_m)
