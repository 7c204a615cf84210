"""Flat faces: plates, the walls of a box, the front and the back of a board."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface import forced, natural
from derate.plant.surface.climate import Climate

Array = NDArray[np.float64]


class Flat(NamedTuple):
    """One isothermal face.

    ``facing``: "side", "up" or "down"; ``area_m2``; ``height_m``: along the upright flow [m];
    ``lying_m``: area over perimeter [m]; ``along_m``: along the forced flow [m].
    """

    facing: str
    area_m2: float
    height_m: float
    lying_m: float
    along_m: float


def rectangle(facing: str, length_m: float, width_m: float) -> Flat:
    """A rectangle, ``length_m`` [m] along the flow or upright."""
    area = length_m * width_m
    lying = area / (2.0 * (length_m + width_m))
    return Flat(facing, area, length_m, lying, length_m)


def plate(facing: str, length_m: float, width_m: float, faces: int) -> tuple[Flat, ...]:
    """One face of a plate, or both: the second one looks the other way."""
    other = {"side": "side", "up": "down", "down": "up"}[facing]
    looks = (facing, other)[:faces]
    return tuple(rectangle(look, length_m, width_m) for look in looks)


def box(width_m: float, depth_m: float, height_m: float) -> tuple[Flat, ...]:
    """Four upright walls, top and bottom.

    Forced flow may come from any side: it is taken along the longer horizontal edge, which sheds
    less.
    """
    along = max(width_m, depth_m)
    walls = [rectangle("side", height_m, edge) for edge in (width_m, depth_m) for _ in range(2)]
    lids = [rectangle(look, width_m, depth_m) for look in ("up", "down")]
    return tuple(face._replace(along_m=along) for face in walls + lids)


def area_m2(faces: Iterable[Flat]) -> float:
    """Area of all faces [m^2]; faces that do not see each other radiate it times emissivity."""
    return sum(face.area_m2 for face in faces)


def convection_w_per_k(
    faces: Iterable[Flat], climate: Climate, speed_m_per_s: float | None
) -> Array:
    """Heat by convection per kelvin of rise [W/K]; ``speed_m_per_s``: at airflow 1."""
    total = np.zeros(())
    for face in faces:
        h = natural.plate_w_per_m2_k(
            climate.film, climate.rise_k, face.facing, face.height_m, face.lying_m
        )
        if speed_m_per_s is not None:
            speed = speed_m_per_s * climate.airflow
            h = forced.together(h, forced.plate_w_per_m2_k(climate.film, speed, face.along_m))
        total = total + face.area_m2 * h
    return total
