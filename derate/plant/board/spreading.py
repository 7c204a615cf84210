"""Spreading resistance in plates and bars: heat that enters through a small part of the face.

All give kelvin per watt of the source, above what the same watt would cause if it entered through
the whole face: thickness / (conductivity area) + 1 / (film area). What is given must be positive
and the source must lie on the face, or InputError is raised.
"""

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.plant.board.greens import Edge, Interval, depth, disc, gathered, interval
from derate.plant.board.half_space import Rise, isothermal_circle_on_half_space, positive
from derate.plant.board.shapes import Rectangle

Array = NDArray[np.float64]

TOLERANCE = 1e-9
"""Relative error of the sums and integrals here, as long as a source is at least 1e-3 of the face
wide; see ``tests/plant/board/test_closed_forms.py``."""
WIDEST_DISC = 0.95
"""Widest disc source, in half-widths of the face [-], for which a sum of modes is tried."""
ROOM = 5.0
"""Diffusivity times time over width^2 [-] when heat has spread evenly: exp(-ROOM pi^2) is left."""
SAME = 1e-9
"""A rectangle may reach beyond the plate by this part of it [-]: rounding."""


class Medium(NamedTuple):
    """The solid behind the face: a slab, or a half-space (bar) where the thickness is infinite.

    Conductivity along and across the slab (the same unless given) [W/(m K)]; ``film_w_per_m2_k``:
    from its back to a place of one temperature, infinite where the back itself is such a place.
    """

    along_w_per_m_k: float
    across_w_per_m_k: float | None = None
    thickness_m: float = math.inf
    film_w_per_m2_k: float = math.inf

    @property
    def across(self) -> float:
        """Conductivity across the slab [W/(m K)]."""
        return self.along_w_per_m_k if self.across_w_per_m_k is None else self.across_w_per_m_k

    @property
    def even_m2_k_per_w(self) -> float:
        """Resistance times area for heat that enters everywhere [m^2 K/W]."""
        return self.thickness_m / self.across + 1 / self.film_w_per_m2_k

    @property
    def isotropic(self) -> tuple[float, float, float]:
        """Conductivity [W/(m K)], thickness [m] and Biot number of the slab that is alike.

        Stretched across by the root of along over across, heat spreads alike in all directions.
        """
        positive(along=self.along_w_per_m_k, across=self.across)
        for name, value in (("thickness", self.thickness_m), ("film", self.film_w_per_m2_k)):
            if not value > 0:
                raise InputError(f"{name}: found {value:g}, due a positive number or infinity")
        stretch = math.sqrt(self.along_w_per_m_k / self.across)
        biot = self.film_w_per_m2_k * self.thickness_m / self.across
        return self.across * stretch, self.thickness_m * stretch, biot


def circle_on_disc(radius_m: float, disc_radius_m: float, medium: Medium) -> Rise:
    """Isoflux circle in the middle of a round plate, or of the end of a round bar.

    The Bessel series of Kennedy, J. Appl. Phys. 31 (1960) 1490 (cited from memory), summed by
    ``greens``. Raises InputError for a source wider than 95 % of the plate.
    """
    return _circle_within(radius_m, Edge(disc_radius_m, square=False), medium)


def circle_on_square(radius_m: float, side_m: float, medium: Medium) -> Rise:
    """Isoflux circle in the middle of a square plate, or of the end of a square bar.

    A double cosine series summed by ``greens``. Raises InputError like ``circle_on_disc``.
    """
    return _circle_within(radius_m, Edge(side_m / 2, square=True), medium)


def isothermal_circle_on_bar(
    radius_m: float, bar_radius_m: float, conductivity_w_per_m_k: float
) -> float:
    """Isothermal circle in the middle of the end of a long round bar, e = radius / bar radius.

        (1 - 1.40978 e + 0.34406 e^3 + 0.0435 e^5 + 0.02271 e^7) / (4 k a)

    A fit by Yovanovich (Rohsenow, Hartnett, Cho, Handbook of Heat Transfer, 3rd ed. 1998, chapter
    3), coefficients from memory: within 0.05 % to e = 0.7, 2 % to 0.9, of no use near 1.
    """
    _within(radius_m, bar_radius_m, 1.0)
    e = radius_m / bar_radius_m
    fit = 1 - 1.40978 * e + 0.34406 * e**3 + 0.0435 * e**5 + 0.02271 * e**7
    return fit * isothermal_circle_on_half_space(radius_m, conductivity_w_per_m_k)


def rectangle_on_plate(
    plate_m: tuple[float, float],
    source: Rectangle,
    medium: Medium,
    *,
    probe: Rectangle | None = None,
) -> float:
    """Isoflux rectangle anywhere on a rectangular plate with one corner in (0, 0).

    The mean over ``probe``, which is the source unless given; of no size, it is a point (a point in
    the source's centre gives about the hottest). Elsewhere on the plate it may be below zero.
    The double series of Muzychka, Culham & Yovanovich, J. Electron. Packag. 125 (2003) 178 (cited
    from memory), summed by ``greens``. Raises InputError for what does not lie on the plate.
    """
    return _on_plate(plate_m, source, medium, probe or source, math.inf)


def rectangle_on_plate_after(
    time_s: ArrayLike,
    diffusivity_m2_per_s: float,
    plate_m: tuple[float, float],
    source: Rectangle,
    medium: Medium,
    *,
    probe: Rectangle | None = None,
) -> Array:
    """The whole rise [K/W] of the same a time after the watt was switched on.

    ``diffusivity_m2_per_s``: along the plate, conductivity / (density specific heat). Other than
    ``rectangle_on_plate`` this counts the even part too: at rest it is their sum.
    """
    positive(diffusivity_m2_per_s=diffusivity_m2_per_s)
    times = np.asarray(time_s, float)
    rises = [
        _on_plate(plate_m, source, medium, probe or source, diffusivity_m2_per_s * float(t))
        for t in times.ravel()
    ]
    return np.array(rises).reshape(times.shape)


def equal_area_disc(source_m2: float, plate_m2: float, medium: Medium) -> Rise:
    """Mean and centre for a source on a plate of any shape, both taken as discs of their area.

    With e = a / b of the discs' radii, t / b and Bi = film b / k, lam = pi + 1 / (sqrt(pi) e):

        phi = (tanh(lam t / b) + lam / Bi) / (1 + lam / Bi tanh(lam t / b))
        mean (1 - e)^1.5 phi / 2, centre (1 - e) phi / sqrt(pi), both over sqrt(pi) k a

    Source: Lee, Song, Au & Moran, ASME/JSME Thermal Engineering Conf. 1995, vol. 4, 199-206, from
    memory. Off the series of ``circle_on_disc``, for e from 0.05 to 0.4: the mean up to 4 %, the
    centre up to 9 % where t / b is 0.5 or more; 16 and 30 % down to 0.05; more on thinner plates.
    """
    positive(source_m2=source_m2, plate_m2=plate_m2)
    if source_m2 > plate_m2:
        raise InputError(
            f"source: found {source_m2:g} m^2, due at most the plate, {plate_m2:g} m^2"
        )
    conductivity, thickness, _ = medium.isotropic
    a, b = math.sqrt(source_m2 / math.pi), math.sqrt(plate_m2 / math.pi)
    e, biot = a / b, medium.film_w_per_m2_k * b / conductivity
    lam = math.pi + 1 / (math.sqrt(math.pi) * e)
    flat = math.tanh(lam * thickness / b)
    phi = (flat + lam / biot) / (1 + lam / biot * flat)
    over = math.sqrt(math.pi) * conductivity * a
    return Rise((1 - e) ** 1.5 * phi / 2 / over, (1 - e) * phi / math.sqrt(math.pi) / over)


def _circle_within(radius_m: float, edge: Edge, medium: Medium) -> Rise:
    _within(radius_m, edge.near_m, WIDEST_DISC)
    conductivity, thickness, biot = medium.isotropic
    until_m2 = ROOM * (2 * edge.near_m) ** 2

    def rise(centre: bool) -> float:
        def density(w_m2: Array) -> Array:
            uneven = disc(w_m2, radius_m, edge, centre=centre) - 1 / edge.area_m2
            return uneven * depth(w_m2, thickness, biot)

        return gathered(density, min(radius_m, thickness), until_m2) / conductivity

    return Rise(rise(False), rise(True))


def _on_plate(
    plate_m: tuple[float, float],
    source: Rectangle,
    medium: Medium,
    probe: Rectangle,
    until_m2: float,
) -> float:
    """The rise at a diffusivity times time [m^2]; at infinity less the even part."""
    positive(width_m=source.width_m, height_m=source.height_m)
    across = plate_m[0], _span("x", source, plate_m[0]), _span("x", probe, plate_m[0])
    upwards = plate_m[1], _span("y", source, plate_m[1]), _span("y", probe, plate_m[1])
    conductivity, thickness, biot = medium.isotropic
    even = 1 / math.prod(plate_m) if math.isinf(until_m2) else 0.0

    def density(w_m2: Array) -> Array:
        lateral = interval(w_m2, *across) * interval(w_m2, *upwards)
        return (lateral - even) * depth(w_m2, thickness, biot)

    smallest_m = min(thickness, *(_least_step(*axis) for axis in (across, upwards)))
    until_m2 = min(until_m2, ROOM * max(plate_m) ** 2) if even else until_m2
    return gathered(density, smallest_m, until_m2) / conductivity


def _span(axis: Literal["x", "y"], part: Rectangle, length_m: float) -> Interval:
    """What a rectangle takes of one side of the plate; InputError where it reaches beyond."""
    middle, width = (part.x_m, part.width_m) if axis == "x" else (part.y_m, part.height_m)
    low, high = middle - width / 2, middle + width / 2
    slack = SAME * length_m
    if not (width >= 0 and -slack <= low and high <= length_m + slack):
        raise InputError(
            f"{axis}: found a rectangle from {low:g} to {high:g} m,"
            f" due one on the plate, from 0 to {length_m:g} m"
        )
    return low, high


def _least_step(length_m: float, source: Interval, probe: Interval) -> float:
    """The smallest distance of two ends along one side [m], rounding aside."""
    steps = np.diff(np.unique([0.0, length_m, *source, *probe]))
    return float(steps[steps > SAME * length_m].min())


def _within(radius_m: float, most_m: float, share: float) -> None:
    positive(radius_m=radius_m, plate_m=most_m)
    if radius_m > share * most_m:
        raise InputError(
            f"radius_m: found {radius_m:g}, due at most {share:g} of the half-width {most_m:g}"
        )
