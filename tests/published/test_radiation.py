"""Radiation to wide surroundings against textbook examples, and emissivities against tables.

Unless said otherwise the examples were read in a public collection of worked textbook notebooks
(Python-Textbook-Companions on GitHub). They take sigma = 5.67e-8 W/(m^2 K^4), which is within 1e-4
of the program's; tolerances come from the digits given.
"""

import pytest
from scipy.optimize import brentq

from derate.lamp.material import built_in_materials
from derate.plant.surface.climate import climate_of
from derate.plant.surface.fluid import AIR, KELVIN
from derate.plant.surface.radiation import STEFAN_BOLTZMANN_W_PER_M2_K4


def coefficient(surface_k, surroundings_k):
    """Black radiation per area and kelvin of rise [W/(m^2 K)]."""
    rise_k = surface_k - surroundings_k
    return float(climate_of(AIR, rise_k, surroundings_k - KELVIN, 0.0).radiating_w_per_m2_k)


def flux(surface_k, surroundings_k):
    """Black radiation [W/m^2]."""
    return coefficient(surface_k, surroundings_k) * (surface_k - surroundings_k)


@pytest.mark.parametrize(("surroundings_k", "printed"), [(448.0, 15.0), (298.0, 8.8)])
def test_coated_panel_incropera_5_3(surroundings_k, printed):
    """A panel of emissivity 0.8 at 423 K: 15.0 W/(m^2 K) to an oven of 448 K, 8.8 to a room.

    Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, Example 5.3.
    """
    assert 0.8 * coefficient(423.0, surroundings_k) == pytest.approx(printed, abs=0.05)


def test_resistor_lienhard_2_8():
    """A resistor of 133 mm^2 with 0.1 W in air of 308 K comes to rest at 72.3 degC.

    Lienhard & Lienhard, A Heat Transfer Textbook, 3rd ed. 2008, Example 2.8: emissivity 0.9, h = 13
    W/(m^2 K), the whole balance of fourth powers, 0 degC counted as 273 K.
    """

    def balance_w(surface_k):
        return 1.33e-4 * (13.0 * (surface_k - 308.0) + 0.9 * flux(surface_k, 308.0)) - 0.1

    assert brentq(balance_w, 308.0, 400.0) - 273.0 == pytest.approx(72.3, abs=0.05)


def test_linear_radiation_lienhard_2_8():
    """Its radiation made linear: 7.17 W/(m^2 K) at a mean of 327 K, leaving out 0.00325 of it.

    The printed 7.17 belongs to a mean of about 327.5 K; 327 K gives 7.137.
    """
    mean_k, apart_k = 327.0, 37.3
    linear = 0.9 * coefficient(mean_k + 1e-6, mean_k - 1e-6)
    assert linear == pytest.approx(7.17, abs=0.04)
    exact = 0.9 * coefficient(mean_k + apart_k / 2.0, mean_k - apart_k / 2.0)
    assert exact / linear - 1.0 == pytest.approx(0.00325, abs=1e-5)


@pytest.mark.parametrize(
    ("surroundings_k", "printed_w", "digit_w"), [(283.0, 152.0, 0.5), (298.0, 40.9, 0.05)]
)
def test_person_cengel_1_9(surroundings_k, printed_w, digit_w):
    """1.4 m^2 of emissivity 0.95 at 303 K radiate 152 W to walls of 283 K, 40.9 W to 298 K.

    Cengel, Heat and Mass Transfer, 3rd ed. 2006, Example 1.9.
    """
    found = 1.4 * 0.95 * flux(303.0, surroundings_k)
    assert found == pytest.approx(printed_w, abs=digit_w)


@pytest.mark.parametrize(
    ("emissivity", "surroundings_k", "printed"),
    [(1.0, 0.0, 1451.613952), (0.85, 305.0, 816.782172265)],
)
def test_grey_surface_by_an_independent_library(emissivity, surroundings_k, printed):
    """A surface of 400 K: 1451.613952 W/m^2 black to 0 K, 816.782172265 at 0.85 to 305 K.

    Docstring of q_rad in the Python library ht 1.2.0, with its sigma of 5.670367e-8.
    """
    older = 5.670367e-8 / STEFAN_BOLTZMANN_W_PER_M2_K4
    found = emissivity * older * flux(400.0, surroundings_k)
    assert found == pytest.approx(printed, rel=1e-9)


BOARD = (0.85, 0.95)
"""0.9 for the plastic surfaces of a board (FLIR support note on boards and electronics)."""
ALUMINIUM = {
    "polished plate, 100 degC": 0.05,
    "sheet as received, 100 degC": 0.09,
    "commercial sheet, 90 degC": 0.09,
    "strongly oxidised": 0.3,
    "anodised sheet, 100 degC": 0.55,
    "anodised window profile": 0.834,
    "anodised dull black, 70 degC": 0.95,
    "anodised light grey, 70 degC": 0.97,
}
"""FLIR user manual; commercial sheet: Thome, EPFL 2008, quoted at cableizer.com; window profile:
LBNL, heatisland.lbl.gov. White paint there has 0.89 to 0.97, bare metal on a board 0.15."""
FINISH_RANGE = 19
"""Of one metal, by its finish alone."""


def test_built_in_emissivities_and_published_tables():
    """Laminate is near 0.9; aluminium may have anything, so the list gives it none."""
    laminate = built_in_materials()["fr4"].emissivity
    assert laminate is not None
    assert BOARD[0] <= laminate <= BOARD[1]
    assert max(ALUMINIUM.values()) > FINISH_RANGE * min(ALUMINIUM.values())
    for name in ("aluminium_5052", "aluminium_6061", "aluminium_alloy"):
        assert built_in_materials()[name].emissivity is None
