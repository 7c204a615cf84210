"""From a normal score to the value of a part: the exact quantile functions of four laws.

A score z stands for the probability Phi(z). With the limits a below and b above the nominal value:

normal: two half normals that meet at the nominal value, of standard deviations a/k and b/k for k
    ``sigmas``; an ordinary normal law where a = b, and half of one where a limit is the nominal
    value. The share a / (a + b) lies below, so that the density has no step (Fechner, 1897).
uniform: even over the limits; triangular: rising to the nominal value, falling from it.
lognormal: the logarithm is normal as above, so that the nominal value is the median where the
    limits are the same factor down and up.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from derate.lamp.variation import Limits, Variation

Array = NDArray[np.float64]


def values_of(variation: Variation, limits: Limits, scores: ArrayLike) -> Array:
    """The values of one key, in its unit, for normal ``scores`` of the draw."""
    z = np.asarray(scores, float)
    nominal, low, high = limits.nominal, limits.low, limits.high
    match variation.distribution:
        case "uniform":
            found = low + (high - low) * ndtr(z)
        case "triangular":
            found = nominal + _triangular(z, nominal - low, high - nominal)
        case "normal":
            found = nominal + _normal(variation, z, nominal - low, high - nominal)
        case "lognormal":
            down, up = math.log(nominal / low), math.log(high / nominal)
            found = nominal * np.exp(_normal(variation, z, down, up))
    bounded = variation.truncated or variation.distribution in ("uniform", "triangular")
    return np.clip(found, low, high) if bounded else np.asarray(found)  # rounding, no more


def _triangular(z: Array, down: float, up: float) -> Array:
    below, above = ndtr(z), ndtr(-z)
    width = down + up
    left = np.sqrt(below * width * down) - down
    right = up - np.sqrt(above * width * up)
    return np.where(below * width < down, left, right)


def _normal(variation: Variation, z: Array, down: float, up: float) -> Array:
    """Distance from the nominal value; each half is scaled to its own standard deviation.

    Of either tail the smaller probability is used, which keeps its digits far out.
    """
    sigmas = variation.sigmas
    beyond = float(ndtr(-sigmas)) if variation.truncated else 0.0
    below, above, width = ndtr(z), ndtr(-z), down + up
    left = below * width < down
    share = np.where(left, below, above) * width / np.where(left, down, up)  # of this half, 0..1
    distance = -ndtri(beyond + (0.5 - beyond) * np.minimum(share, 1.0)) / sigmas
    return np.asarray(np.where(left, -down * distance, up * distance))
