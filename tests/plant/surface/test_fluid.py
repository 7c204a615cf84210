"""Properties of air and water against the equations of state they were fitted to."""

import numpy as np
import pytest

from derate.plant.surface.fluid import AIR, WATER, Properties
from tests.plant.surface.fluid_fit import coolprop, fitted

FIT = 5e-4
"""Relative error that ``fluid`` promises."""
DIGITS = 1e-6
"""Relative: the coefficients are kept with seven digits."""
TURNING_C = 3.98
"""Water is densest here (textbook fact)."""


@pytest.mark.parametrize("fluid", [AIR, WATER], ids=lambda fluid: fluid.name)
def test_polynomials_follow_the_equations_of_state(fluid):
    """Every property lies within 5e-4 of CoolProp's over the whole range."""
    film_c = np.linspace(*fluid.range_c, 337)
    known, found = coolprop(fluid, film_c), fluid.at(film_c)
    expanding = film_c >= fluid.expands_from_c
    for name in Properties._fields:
        counted = expanding if name == "expansion_per_k" else slice(None)
        np.testing.assert_allclose(
            getattr(found, name)[counted], getattr(known, name)[counted], rtol=FIT, err_msg=name
        )


@pytest.mark.parametrize("fluid", [AIR, WATER], ids=lambda fluid: fluid.name)
def test_coefficients_are_those_of_the_fit(fluid):
    """Fitting anew gives the coefficients in the file."""
    anew = np.array(fitted(fluid))
    np.testing.assert_allclose(
        np.abs(fluid.coefficients - anew).max(axis=1) / anew[:, 0], 0.0, atol=DIGITS
    )


@pytest.mark.parametrize("fluid", [AIR, WATER], ids=lambda fluid: fluid.name)
def test_outside_the_range_the_ends_hold(fluid):
    """Beyond its range a fluid keeps the properties of the nearest end."""
    low_c, high_c = fluid.range_c
    assert fluid.at(low_c - 50.0) == fluid.at(low_c)
    assert fluid.at(high_c + 500.0) == fluid.at(high_c)


def test_water_drives_itself_on_either_side_of_its_turning_point():
    """Below 6 degC the expansion counts as 3e-5 per kelvin, less than at 0 degC in truth."""
    cold = WATER.at(np.array([0.5, TURNING_C, 5.9])).expansion_per_k
    assert np.ptp(cold) == 0.0
    truth = coolprop(WATER, np.array([0.5, TURNING_C])).expansion_per_k
    assert truth[0] < -cold[0] < 0.0
    assert abs(truth[1]) < cold[0] / 10.0
