"""The choice of the divider resistor: what is finest, what is refused, what a slip costs."""

import math

import numpy as np
import pytest

from derate.errors import InputError
from derate.sensing import lookup, placed, tables
from derate.sensing.circuit import celsius_at_lsb, from_lamp, ideal_lsb
from derate.sensing.design import design, kelvin_per_code
from tests.sensing.invented import ARRANGEMENTS
from tests.sensing.toleranced import exact, toleranced

CURVATURE = 0.01
"""One code is short: slope and difference over it agree to this share."""


@pytest.fixture(scope="module")
def found():
    """E24 resistors for 60 to 110 degC, with ordinary tolerances and 12 bits."""
    return design(toleranced(), 60.0, 110.0)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_kelvin_per_code_is_the_slope(arrangement):
    """Kelvin per code is the inverse of the slope of code against temperature."""
    circuit = from_lamp(exact(arrangement))
    celsius = np.array([-20.0, 25.0, 85.0])
    slope = [ideal_lsb(circuit, t + 0.01) - ideal_lsb(circuit, t - 0.01) for t in celsius]
    expected = 0.02 / np.abs(slope)
    np.testing.assert_allclose(kelvin_per_code(circuit, celsius), expected, rtol=CURVATURE)


def test_resolution_ends_with_the_supply():
    """Where the code leaves what the supply spans there is no kelvin per code."""
    circuit = from_lamp(exact(adc={"bits": 6}))
    assert math.isnan(kelvin_per_code(circuit, -80.0))
    assert not math.isnan(kelvin_per_code(circuit, 25.0))


def test_the_best_comes_first(found):
    """Usable ones by rising aim, the best at cost 1; refused ones last, each with its reason."""
    usable = [one for one in found if one.refused is None]
    refused = [one for one in found if one.refused is not None]
    assert found == usable + refused
    steps = [one.worst_k_per_code for one in usable]
    assert steps == sorted(steps)
    assert usable[0].cost == 1.0
    for one in usable:
        assert one.cost == pytest.approx(one.worst_k_per_code / usable[0].worst_k_per_code)
        assert one.bytes == 4 * one.knots > 0
        assert min(one.open_margin_codes, one.short_margin_codes) > 0
    assert all("to tell them apart" in one.refused or "fault" in one.refused for one in refused)


def test_the_finest_is_refused_for_its_window(found):
    """Unhindered, the finest at the hot end is near the thermistor's resistance there; refused.

    Its windows leave no room in the cold, so that the choice falls on a larger one.
    """
    finest = min(found, key=lambda one: one.worst_k_per_code)
    assert finest.refused is not None
    assert "open" in finest.refused or "fault" in finest.refused
    assert finest.resistor_ohm < found[0].resistor_ohm
    assert finest.cost < 1.0


def test_the_present_one_is_marked(found):
    """Exactly one is marked present; a resistor outside of the series takes part."""
    assert [one.resistor_ohm for one in found if one.present] == [10e3]
    odd = design(exact(resistor_ohm=4.99e3), 60.0, 110.0, series="E12")
    assert [one.resistor_ohm for one in odd if one.present] == [4.99e3]


def test_the_aim_may_be_the_error():
    """Aimed at the error, the first has the least error of all that are usable."""
    by_error = design(toleranced(), 60.0, 110.0, series="E12", aim="error")
    usable = [one for one in by_error if one.refused is None]
    assert by_error[0].worst_error_k == min(one.worst_error_k for one in usable)
    assert by_error[0].worst_error_k > 0.0


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_windows_fire_outside_the_working_range(arrangement):
    """Where a window would be met lies beyond the working range, open in the cold."""
    for one in design(exact(arrangement), 60.0, 110.0, series="E12"):
        if one.refused is None:
            assert math.isnan(one.open_fires_c) or one.open_fires_c < -40.0
            assert math.isnan(one.short_fires_c) or one.short_fires_c > 125.0


def test_a_range_beyond_the_thermistor_is_refused():
    """A range of interest outside of the working range is refused in a sentence."""
    with pytest.raises(InputError, match="due a range within thermistor"):
        design(exact(), 60.0, 140.0)


def test_a_wrong_resistor_costs_what_it_says(found):
    """The cost is what one code is worth with that resistor, taken from its own chain."""
    for one in found[:3]:
        circuit = from_lamp(exact(resistor_ohm=one.resistor_ohm))
        edge = ideal_lsb(circuit, 110.0)
        step_k = celsius_at_lsb(circuit, edge - 0.5) - celsius_at_lsb(circuit, edge + 0.5)
        assert one.worst_k_per_code == pytest.approx(step_k, rel=CURVATURE)


def test_the_table_asked_for_does_not_choose_the_resistor():
    """A finer or coarser table moves the error of all resistors by the same and no order."""
    fine, coarse = (
        design(toleranced(), 60.0, 110.0, series="E12", max_error_k=error_k)
        for error_k in (0.01, 0.5)
    )
    for one, other in zip(fine, coarse, strict=True):
        assert one.resistor_ohm == other.resistor_ohm
        if one.refused is None:
            assert other.worst_error_k - one.worst_error_k == pytest.approx(0.49)
            assert one.knots == other.knots


def test_no_table_is_searched_for_a_resistor(monkeypatch):
    """A search for each resistor took most of a minute at 16 bits: none is made."""

    def searched(*_arguments, **_keys):
        raise AssertionError("a table of placed knots was searched")

    monkeypatch.setattr(placed, "fewest_segments", searched)
    monkeypatch.setattr(tables, "fewest_segments", searched)
    monkeypatch.setattr(lookup, "fewest_segments", searched)
    assert design(toleranced(adc={"bits": 16}), 60.0, 110.0, series="E12")[0].refused is None
