"""Where heat has spread to: one-dimensional Green's functions, and what their product adds up to.

A unit of heat released on the face of a slab, over a source, is found after the time t on the same
face, over a probe, with the density

    lateral(w) depth(w),    w = (thermal diffusivity) t  [m^2]

lateral [1/m^2] along the slab (insulated edges), depth [1/m] through it (insulated face, film at
the back). A watt that has flowed since t = 0 lifts the probe by the integral of their product over
w, divided by the conductivity. Each factor is a sum of images while w is small and of modes when it
is large, so a dozen terms give all digits. Sources, from memory: Beck et al., Heat Conduction Using
Green's Functions (1992); Carslaw & Jaeger, Conduction of Heat in Solids (1959).
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]
Interval = tuple[float, float]

FEW = 1 / 36
"""Where images give way to modes, w over length^2 [-]: both leave out less than e^-36."""
TERMS = 14
"""Modes that count beyond FEW: the next is below e^-(14 pi / 6)^2."""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
HALVINGS = 60
"""Halvings of an interval until the root within has all its digits."""


def interval(w_m2: Array, length_m: float, source: Interval, probe: Interval) -> Array:
    """Density [1/m] across 0..length, insulated at both ends: means over ``source`` and ``probe``.

    A probe of no width is a point. With F the second integral of exp(-d^2 / 4w) / sqrt(4 pi w).
    """
    density = np.empty_like(w_m2)
    early = w_m2 < FEW * length_m**2
    density[early] = sum(
        _free(w_m2[early], image, probe)
        for turn in (-2 * length_m, 0.0, 2 * length_m)
        for image in (
            (turn + source[0], turn + source[1]),
            (turn - source[1], turn - source[0]),
        )
    )
    m = np.arange(1, TERMS)
    shape = np.ones(TERMS - 1)
    for low, high in (source, probe):
        middle, width = (low + high) / 2 / length_m, (high - low) / length_m
        shape *= np.cos(m * np.pi * middle) * np.sinc(m * width / 2)
    decay = np.exp(-np.outer(w_m2[~early], (m * np.pi / length_m) ** 2))
    density[~early] = (1 + 2 * decay @ shape) / length_m
    return density


def _free(w_m2: Array, source: Interval, probe: Interval) -> Array:
    """The same without ends."""
    width, reach = source[1] - source[0], np.sqrt(4 * w_m2)
    if probe[0] == probe[1]:
        d = np.array([[probe[0] - source[0]], [probe[0] - source[1]]]) / reach
        first = special.erf(d) / 2
        return np.asarray((first[0] - first[1]) / width)
    ends = [[probe[i] - source[j]] for i, j in ((1, 0), (0, 1), (0, 0), (1, 1))]
    d = np.array(ends) / reach
    second = reach / 2 * (d * special.erf(d) + np.exp(-(d**2)) / math.sqrt(math.pi))
    total = second[0] + second[1] - second[2] - second[3]
    return np.asarray(total / (width * (probe[1] - probe[0])))


def depth(w_m2: Array, thickness_m: float, biot: float) -> Array:
    """Density [1/m] at the face of a slab; ``biot``: film coefficient thickness / conductivity.

    Modes zeta tan zeta = biot. An infinite thickness is a half-space, an infinite ``biot`` a back
    that keeps its temperature.
    """
    early = w_m2 < FEW * thickness_m**2
    density = 1 / np.sqrt(np.pi * w_m2)
    if early.all():
        return density
    zeta = slab_modes(biot)
    share = 1 / (1 + 1 / (zeta**2 / biot + biot))
    decay = np.exp(-np.outer(w_m2[~early], (zeta / thickness_m) ** 2))
    density[~early] = 2 / thickness_m * decay @ share
    return density


def slab_modes(biot: float) -> Array:
    """The first roots of zeta tan zeta = biot, by halving: one in each (p pi, p pi + pi / 2)."""
    p = np.arange(TERMS)
    low, high = p * np.pi, (p + 0.5) * np.pi
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        beyond = (-1.0) ** p * (middle * np.sin(middle) / biot - np.cos(middle)) > 0
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return np.asarray(high)


def disc(w_m2: Array, radius_m: float, edge: "Edge", *, centre: bool) -> Array:
    """Density [1/m^2] over a disc, from that disc, in the middle of a larger face.

    Its mean over the disc or its value in the ``centre``. While no heat has come back from the
    edge: 1 - exp(-x) (I_0(x) + I_1(x)), x = radius^2 / 2w, and 1 - exp(-x / 2), both over the area.
    """
    density = np.empty_like(w_m2)
    early = w_m2 < FEW * (edge.near_m - radius_m) ** 2
    x = radius_m**2 / (2 * w_m2[early])
    gone = np.exp(-x / 2) if centre else special.i0e(x) + special.i1e(x)
    density[early] = (1 - gone) / (math.pi * radius_m**2)
    wave, times = edge.modes(6 / (math.sqrt(FEW) * (edge.near_m - radius_m)))
    felt = 2 * special.j1(wave * radius_m) / (wave * radius_m)
    shape = times * (felt if centre else felt**2)
    density[~early] = (1 + np.exp(-np.outer(w_m2[~early], wave**2)) @ shape) / edge.area_m2
    return density


class Edge:
    """An insulated edge around a centred disc: a circle, or a square of the same half-width."""

    def __init__(self, near_m: float, *, square: bool) -> None:
        self.near_m, self.square = near_m, square
        self.area_m2 = (4.0 if square else math.pi) * near_m**2

    def modes(self, most_per_m: float) -> tuple[Array, Array]:
        """Wave numbers [1/m] up to ``most_per_m`` of the modes that a disc stirs, their weights."""
        if not self.square:
            zero = special.jn_zeros(1, math.ceil(most_per_m * self.near_m / math.pi))
            return zero / self.near_m, 1 / special.j0(zero) ** 2
        m = np.arange(math.ceil(most_per_m * self.near_m / math.pi) + 1)
        square, place = np.unique(np.add.outer(m**2, m**2), return_inverse=True)
        twice = np.where(m > 0, 2.0, 1.0)
        times = np.bincount(place.ravel(), weights=np.outer(twice, twice).ravel())
        wave = np.pi / self.near_m * np.sqrt(square[1:].astype(float))
        return wave, np.asarray(times[1:], float)


def gathered(density: Callable[[Array], Array], smallest_m: float, until_m2: float) -> float:
    """Integral of ``density`` [1/m^3] over w from 0 to ``until_m2``: 1/m.

    In sqrt(w), where it is smooth, over panels that double from ``smallest_m`` / 4 on.
    """
    if until_m2 <= 0:
        return 0.0
    last = math.sqrt(until_m2)
    first = min(smallest_m / 4, last)
    doublings = max(0, math.ceil(math.log2(last / first)))
    ends = np.concatenate(([0.0], np.minimum(first * 2.0 ** np.arange(doublings + 1), last)))
    half = np.diff(ends)[:, None] / 2
    root = (ends[:-1, None] + half * (1 + NODES)).ravel()
    return float(((half * WEIGHTS).ravel() * 2 * root) @ density(root**2))
