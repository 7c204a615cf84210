"""Spreading resistance of a source on a half-space in closed form.

The whole resistance in kelvin per watt from the source to infinity. The heat enters evenly over the
source (isoflux; mean and centre temperature), or so that the source has one temperature
(isothermal), which conducts better. All lengths and the conductivity must be positive, or
InputError is raised.
"""

import math
from typing import NamedTuple

from derate.errors import InputError

SQUARE_CAPACITY = 0.3667892
"""Capacity of a square plate in free space over 4 pi epsilon side [-]: the mathematics of constant
temperature is that of constant potential. Computed by boundary elements, many authors; the value is
from memory and confirmed to five digits in ``tests/plant/board/test_closed_circles.py``."""


class Rise(NamedTuple):
    """Mean over the source and value in its centre."""

    mean_k_per_w: float
    centre_k_per_w: float


def circle_on_half_space(radius_m: float, conductivity_w_per_m_k: float) -> Rise:
    """Isoflux circle: 8 / (3 pi^2 k a) in the mean, 1 / (pi k a) in the centre.

    Source: Carslaw & Jaeger, Conduction of Heat in Solids (1959), from memory.
    """
    positive(radius_m=radius_m, conductivity_w_per_m_k=conductivity_w_per_m_k)
    scale = conductivity_w_per_m_k * radius_m
    return Rise(8 / (3 * math.pi**2 * scale), 1 / (math.pi * scale))


def isothermal_circle_on_half_space(radius_m: float, conductivity_w_per_m_k: float) -> float:
    """Isothermal circle: 1 / (4 k a).

    Source: Rohsenow, Hartnett, Cho, Handbook of Heat Transfer, 3rd ed. 1998, chapter 3.
    """
    positive(radius_m=radius_m, conductivity_w_per_m_k=conductivity_w_per_m_k)
    return 1 / (4 * conductivity_w_per_m_k * radius_m)


def rectangle_on_half_space(length_m: float, width_m: float, conductivity_w_per_m_k: float) -> Rise:
    """Isoflux rectangle of sides c, d: (c asinh(d/c) + d asinh(c/d)) / (pi k c d) in the centre.

    The mean is the integral of 1 / (2 pi k distance) over the rectangle twice. Source: Rohsenow,
    Hartnett, Cho, Handbook of Heat Transfer, 3rd ed. 1998, chapter 3 (square: 0.5611 and 0.4732
    over k side); the mean of a rectangle derived here.
    """
    positive(length_m=length_m, width_m=width_m, conductivity_w_per_m_k=conductivity_w_per_m_k)
    c, d, k = length_m, width_m, conductivity_w_per_m_k
    along, across = c * math.asinh(d / c), d * math.asinh(c / d)
    corner = (c**3 + d**3 - math.hypot(c, d) ** 3) / 3
    mean = (c * d * (along + across) + corner) / (math.pi * k * (c * d) ** 2)
    return Rise(mean, (along + across) / (math.pi * k * c * d))


def isothermal_square_on_half_space(side_m: float, conductivity_w_per_m_k: float) -> float:
    """Isothermal square: 1 / (2 pi k s capacity), 0.4339 / (k s), see ``SQUARE_CAPACITY``."""
    positive(side_m=side_m, conductivity_w_per_m_k=conductivity_w_per_m_k)
    return 1 / (2 * math.pi * conductivity_w_per_m_k * side_m * SQUARE_CAPACITY)


def positive(**numbers: float) -> None:
    """Raises InputError for the first of the named numbers that is not positive and finite."""
    for name, value in numbers.items():
        if not 0 < value < math.inf:
            raise InputError(f"{name}: found {value:g}, due a positive number")
