"""The situations a surface is computed for: rise, ambient, airflow, and the fluid's film."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface.fluid import KELVIN, Fluid, Properties
from derate.plant.surface.radiation import STEFAN_BOLTZMANN_W_PER_M2_K4

Array = NDArray[np.float64]


class Climate(NamedTuple):
    """Arrays that broadcast together.

    ``rise_k``: surface over ambient, from 0 [K]; ``airflow``: factor on the speed of the flow [-];
    ``film``: the fluid's properties at the mean of surface and ambient;
    ``radiating_w_per_m2_k``: black radiation per area and kelvin of rise.
    """

    rise_k: Array
    airflow: Array
    film: Properties
    radiating_w_per_m2_k: Array


def climate_of(
    fluid: Fluid, rise_k: Array | float, ambient_c: Array | float, airflow: Array | float
) -> Climate:
    """The climate of arrays or numbers that broadcast together."""
    rise, ambient = np.asarray(rise_k, dtype=float), np.asarray(ambient_c, dtype=float)
    outside_k = ambient + KELVIN
    surface_k = outside_k + rise
    return Climate(
        rise,
        np.asarray(airflow, dtype=float),
        fluid.at(ambient + 0.5 * rise),
        STEFAN_BOLTZMANN_W_PER_M2_K4 * (surface_k**2 + outside_k**2) * (surface_k + outside_k),
    )
