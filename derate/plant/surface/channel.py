"""Convection in the channels between parallel plate fins, upright, lying, or blown through.

Symbols: S gap between two fins, L length of the channel; Nu = h S / k with h counted from the
temperature of the fluid that enters; properties at the film temperature.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface.fluid import Properties
from derate.plant.surface.natural import rayleigh

Array = NDArray[np.float64]

LYING_RAYLEIGH: Final = (200.0, 6e5)
DOWN_SHARE: Final = 0.5
"""Convection between fins that hang down, as a share of that between fins that stand up [-]."""
LAMINAR_REYNOLDS: Final = 2300.0
"""Re = speed 2 S / nu up to which the flow through a channel is laminar [-]."""

BLOWN_REYNOLDS: Final = 175.0
"""Highest Re* [-] that the correlation of blown channels was compared at."""


def upright(elenbaas: Array | float) -> Array:
    """Nu [-] of upright channels, both walls of one temperature.

        Nu = (576 / El^2 + 2.873 / El^(1/2))^(-1/2)        El = Ra S / L, Ra of the gap

    Bar-Cohen & Rohsenow, J. Heat Transfer 106 (1984) 116, constants from memory. Between air that
    leaves as warm as the walls, Nu = El / 24, and two lone plates, Nu = 0.59 El^(1/4), at any El
    with laminar flow. The floor between the fins counts like their sides; the open front is
    neglected, so that shallow channels (deeper than wide no longer) are understated.
    """
    el = np.maximum(np.asarray(elenbaas), np.finfo(float).tiny ** 0.25)
    return np.asarray((576.0 / el**2 + 2.873 / np.sqrt(el)) ** -0.5)


def lying(rayleigh: Array | float) -> Array:
    """Nu [-] of fins that stand on a lying base, hot side down.

        Nu = 6.7e-4 Ra (1 - exp(-(7460 / Ra)^0.44))^1.7        Ra of the gap S, 200 < Ra < 6e5

    Jones & Smith, J. Heat Transfer 92 (1970) 6, for air, from memory; fins and floor in one. Wide
    gaps tend to the lone plate, 0.53 Ra^(1/4).
    """
    ra = np.maximum(np.asarray(rayleigh), np.finfo(float).tiny ** 0.25)
    return np.asarray(6.7e-4 * ra * (-np.expm1(-((7460.0 / ra) ** 0.44))) ** 1.7)


def blown(channel_reynolds: Array | float, prandtl: Array | float) -> Array:
    """Nu [-] of laminar flow that develops in a channel, both walls of one temperature.

        Nu = ((Re* Pr / 2)^-3 + (0.664 sqrt(Re*) Pr^(1/3) sqrt(1 + 3.65 / sqrt(Re*)))^-3)^(-1/3)

    with Re* = speed S / nu * S / L. Teertstra, Yovanovich, Culham, J. Electronics Manufacturing 10
    (2000) 181: within 3 % of computed flows for 0.26 < Re* < 175 in air. Between air that leaves as
    warm as the walls and two lone plates. Turbulent flow sheds more.
    """
    re = np.maximum(np.asarray(channel_reynolds), np.finfo(float).tiny ** 0.25)
    full = 0.5 * re * prandtl
    entering = 0.664 * np.sqrt(re + 3.65 * np.sqrt(re)) * np.cbrt(prandtl)
    return np.asarray((full**-3.0 + entering**-3.0) ** (-1.0 / 3.0))


def natural_w_per_m2_k(
    fluid: Properties, rise_k: Array | float, facing: str, gap_m: float, length_m: float
) -> Array:
    """Film coefficient [W/(m^2 K)] between fins on a base that looks "side", "up" or "down".

    No correlation is at hand for fins that hang down: they are taken as half as good as standing
    ones (``DOWN_SHARE``), the ratio of the correlations of lone plates, 0.27 to 0.54.
    """
    ra = rayleigh(fluid, rise_k, gap_m)
    if facing == "side":
        nusselt = upright(ra * gap_m / length_m)
    else:
        nusselt = lying(ra) * (1.0 if facing == "up" else DOWN_SHARE)
    return np.asarray(nusselt * fluid.conductivity_w_per_m_k / gap_m)


def blown_w_per_m2_k(
    fluid: Properties, speed_m_per_s: Array | float, gap_m: float, length_m: float
) -> Array:
    """Film coefficient [W/(m^2 K)] of flow at ``speed_m_per_s`` between the fins."""
    re = speed_m_per_s * gap_m * gap_m / (fluid.viscosity_m2_per_s * length_m)
    nusselt = blown(re, fluid.prandtl)
    return np.asarray(nusselt * fluid.conductivity_w_per_m_k / gap_m)
