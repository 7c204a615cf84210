"""A bank of parallel plate fins on a base: natural or forced convection, and radiation."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface import channel, fan, forced, natural, radiation
from derate.plant.surface.climate import Climate
from derate.plant.surface.fin import efficiency

Array = NDArray[np.float64]


class Bank(NamedTuple):
    """``fins`` fins; lengths [m]: along the channels, across them, off the base.

    ``facing``: where the fins point, "side" with upright channels, "up" or "down";
    ``conductivity_w_per_m_k`` of the fins; ``speed_m_per_s``: between the fins at airflow 1, or a
    fan of ``free_m3_per_s`` free delivery and ``shut_off_pa``.
    """

    facing: str
    fins: int
    length_m: float
    width_m: float
    height_m: float
    thickness_m: float
    conductivity_w_per_m_k: float
    emissivity: float
    speed_m_per_s: float | None = None
    free_m3_per_s: float | None = None
    shut_off_pa: float = 0.0

    @property
    def gap_m(self) -> float:
        """Clear width between two fins [m]."""
        return (self.width_m - self.fins * self.thickness_m) / (self.fins - 1)

    @property
    def ducts(self) -> fan.Ducts:
        """The channels between the fins."""
        channels, gap = self.fins - 1, self.gap_m
        share = channels * gap / self.width_m
        return fan.Ducts(channels, self.length_m, gap, self.height_m, share)

    @property
    def channel_black_m2(self) -> float:
        """Black area that radiates like one channel [m^2]."""
        return radiation.channel_black_m2(self.length_m, self.gap_m, self.height_m, self.emissivity)

    @property
    def wetted_m2(self) -> float:
        """Area of the floors, of both sides of all fins, of their tips and ends [m^2]."""
        floors = (self.fins - 1) * self.gap_m * self.length_m
        return floors + 2.0 * self.fins * self.height_m * self.length_m + self.edges_m2

    @property
    def edges_m2(self) -> float:
        """Area of the tips and both ends of all fins [m^2]."""
        return self.fins * self.thickness_m * (self.length_m + 2.0 * self.height_m)


def floor_black_m2(bank: Bank) -> float:
    """Black area [m^2] that radiates like the floors between the fins, which the node heats all."""
    share = bank.gap_m / (bank.gap_m + 2.0 * bank.height_m)
    return (bank.fins - 1) * bank.channel_black_m2 * share


def speed_m_per_s(bank: Bank, climate: Climate) -> Array | None:
    """Speed between the fins [m/s] from the given speed or the fan, None in still air."""
    if bank.free_m3_per_s is not None:
        return fan.operating_speed_m_per_s(
            climate.film,
            climate.airflow,
            bank.ducts,
            free_m3_per_s=bank.free_m3_per_s,
            shut_off_pa=bank.shut_off_pa,
        )
    return None if bank.speed_m_per_s is None else bank.speed_m_per_s * climate.airflow


class Films(NamedTuple):
    """Film coefficients [W/(m^2 K)] between the fins and on the two outermost sides."""

    inside: Array
    outside: Array


def films_of(bank: Bank, climate: Climate) -> Films:
    """Film coefficients of the bank, natural and forced convection together."""
    upright = bank.length_m if bank.facing == "side" else bank.height_m
    inside = channel.natural_w_per_m2_k(
        climate.film, climate.rise_k, bank.facing, bank.gap_m, bank.length_m
    )
    outside = natural.plate_w_per_m2_k(climate.film, climate.rise_k, "side", upright, 0.0)
    speed = speed_m_per_s(bank, climate)
    if speed is not None:
        blown = channel.blown_w_per_m2_k(climate.film, speed, bank.gap_m, bank.length_m)
        inside = forced.together(inside, blown)
    if bank.speed_m_per_s is not None and speed is not None:
        along = forced.plate_w_per_m2_k(climate.film, speed, bank.length_m)
        outside = forced.together(outside, along)
    return Films(inside, outside)


class Shed(NamedTuple):
    """What a bank sheds per kelvin of rise [W/K], and the efficiency of its inner fins [-].

    ``radiation_w_per_k``: beyond what ``floor_black_m2`` radiates.
    """

    convection_w_per_k: Array
    radiation_w_per_k: Array
    efficiency: Array


def beyond_floor_w_per_k(bank: Bank, climate: Climate) -> Array:
    """Heat per kelvin of rise [W/K] beyond what ``floor_black_m2`` radiates."""
    shed = shed_of(bank, climate)
    return np.asarray(shed.convection_w_per_k + shed.radiation_w_per_k)


def shed_of(bank: Bank, climate: Climate) -> Shed:
    """Heat per kelvin of rise, convection and radiation apart.

    Convection from the floors; convection and radiation from the fins times their efficiency, which
    counts both. Walls of a channel radiate each by its area; the two outermost fins see the mean of
    inside and outside.
    """
    films, radiating = films_of(bank, climate), climate.radiating_w_per_m2_k
    walls = bank.length_m * (bank.gap_m + 2.0 * bank.height_m)
    inside_black, outside_black = bank.channel_black_m2 / walls, bank.emissivity
    inside = films.inside + radiating * inside_black
    outside = films.outside + radiating * outside_black
    corrected = bank.height_m + 0.5 * bank.thickness_m
    stiff = 2.0 / (bank.conductivity_w_per_m_k * bank.thickness_m)
    inner = efficiency(np.sqrt(stiff * inside), corrected)
    outer = efficiency(np.sqrt(stiff * 0.5 * (inside + outside)), corrected)
    channels = 2.0 * ((bank.fins - 2) * inner + outer)
    floors = (bank.fins - 1) * bank.gap_m * bank.length_m
    side = corrected * bank.length_m
    convection = films.inside * (floors + side * channels) + films.outside * side * 2.0 * outer
    bare = bank.height_m * bank.length_m
    black = inside_black * bare * channels + outside_black * bare * 2.0 * outer
    black = black + outside_black * bank.edges_m2 * inner
    return Shed(np.asarray(convection), np.asarray(radiating * black), inner)
