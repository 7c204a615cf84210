"""Slopes of the monotone cubic through points, without the library that has it: that takes as long
to load as all else that a command needs to tell an operating point.

At an inner point between pieces of width h, k and secant m, n the slope is their weighted harmonic
mean, zero where they differ in sign (Fritsch and Butland, 1984),

    (3 h + 3 k) / ((h + 2 k) / m + (2 h + k) / n)

and at an end that of the parabola through three points, held to the sign of the outermost secant
and to three times it.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def slopes(x: Array, y: Array) -> Array:
    """Slope at each of two or more points (x, y), x rising."""
    width, secant = np.diff(x), np.diff(y) / np.diff(x)
    if len(x) == 2:
        return np.repeat(secant, 2)
    found = np.zeros(len(x))
    one, other = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    alike = np.flatnonzero(secant[1:] * secant[:-1] > 0.0)
    harmonic = one[alike] / secant[alike] + other[alike] / secant[alike + 1]
    found[alike + 1] = (one + other)[alike] / harmonic
    found[0] = _end(width[:2], secant[:2])
    found[-1] = _end(width[:-3:-1], secant[:-3:-1])
    return found


def _end(width: Array, secant: Array) -> float:
    """Slope at the outer end of the first of two pieces."""
    slope = ((2 * width[0] + width[1]) * secant[0] - width[0] * secant[1]) / width.sum()
    if slope * secant[0] <= 0.0:
        return 0.0
    if secant[0] * secant[1] <= 0.0 and abs(slope) > 3 * abs(secant[0]):
        return float(3 * secant[0])
    return float(slope)
