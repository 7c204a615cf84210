"""Radiation to wide surroundings at the ambient's temperature, also out of channels between fins.

    Q = sigma A_b (T_surface^4 - T_ambient^4)         T in kelvin

A_b [m^2] is the black area that radiates alike: emissivity times area for a face that does not see
itself, less for the walls of a channel.
"""

import math
from typing import Final

STEFAN_BOLTZMANN_W_PER_M2_K4: Final = 5.670374419e-8
"""CODATA 2018, exact."""


def opposite_view(width_m: float, length_m: float, distance_m: float) -> float:
    """View factor [-] between two equal rectangles that face each other.

    Howell, Catalog of Radiation Configuration Factors, C-11; Incropera, Table 13.2; from memory.
    """
    x, y = width_m / distance_m, length_m / distance_m
    xx, yy = math.hypot(1.0, x), math.hypot(1.0, y)
    total = (
        math.log(xx * yy / math.sqrt(1.0 + x * x + y * y))
        + x * yy * math.atan(x / yy)
        + y * xx * math.atan(y / xx)
        - x * math.atan(x)
        - y * math.atan(y)
    )
    return 2.0 / (math.pi * x * y) * total


def corner_view(edge_m: float, from_m: float, to_m: float) -> float:
    """View factor [-] from a rectangle to another at right angles that shares ``edge_m`` with it.

    ``from_m``, ``to_m``: how far each reaches from the edge. Howell, C-14; Incropera, Table 13.2;
    from memory.
    """
    w, h = from_m / edge_m, to_m / edge_m
    ww, hh, both = w * w, h * h, w * w + h * h
    bracket = (
        math.log((1.0 + ww) * (1.0 + hh) / (1.0 + both))
        + ww * math.log(ww * (1.0 + both) / ((1.0 + ww) * both))
        + hh * math.log(hh * (1.0 + both) / ((1.0 + hh) * both))
    )
    angles = (
        w * math.atan(1.0 / w)
        + h * math.atan(1.0 / h)
        - math.sqrt(both) * math.atan(1.0 / math.sqrt(both))
    )
    return (angles + 0.25 * bracket) / (math.pi * w)


def channel_opening_m2(length_m: float, gap_m: float, depth_m: float) -> float:
    """Area times view factor [m^2] from the walls of a channel to the outside.

    The walls are a floor and two sides; open are the top and both ends. What leaves an opening
    meets the walls unless it leaves by another opening; view factors are reciprocal.
    """
    top, end = length_m * gap_m, depth_m * gap_m
    top_to_end = top * corner_view(gap_m, length_m, depth_m)
    end_to_end = end * opposite_view(gap_m, depth_m, length_m)
    return top + 2.0 * end - 4.0 * top_to_end - 2.0 * end_to_end


def channel_black_m2(length_m: float, gap_m: float, depth_m: float, emissivity: float) -> float:
    """Black area A_b [m^2] of one channel between two fins, walls grey and of one temperature.

        1 / A_b = (1 - eps) / (eps A_walls) + 1 / opening

    A grey zone to black surroundings (Incropera, section 13.3); the walls count as one zone.
    """
    walls = length_m * (gap_m + 2.0 * depth_m)
    opening = channel_opening_m2(length_m, gap_m, depth_m)
    return emissivity * walls * opening / ((1.0 - emissivity) * opening + emissivity * walls)
