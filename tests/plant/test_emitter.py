"""Forward voltage and fluxes of one emitter, and the convention of its resistance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from derate.plant.curve import table_of, value, within
from derate.plant.emitter import (
    RADIANT,
    RADIANT_RATIO,
    VOLTAGE,
    curves_of,
    ln_current_at,
    real_resistance_k_per_w,
    stacked,
    voltage_slope_v,
    voltage_v,
)
from tests.plant.invented import WHITE, emitter

ROUNDING = 1e-13
"""Relative: the same cubic evaluated in another order."""
INVERSE = 1e-12
"""Relative: Newton's method stops at the last digits of the logarithm."""
FLAT_V = 1e-12
"""Where a cubic's slope vanishes at an end, rounding decides between two neighbours."""
DIFFERENCE = 1e-6
"""Relative: central difference with a step of 1e-5."""


def test_curves_pass_through_the_points():
    """Every point of the data sheet is on its curve."""
    curves = curves_of(emitter())
    for current_a, volts, watts in zip(
        WHITE["current_a"], WHITE["forward_voltage_v"], WHITE["radiant_flux_w"], strict=True
    ):
        assert voltage_v(curves[VOLTAGE], np.log(current_a)) == pytest.approx(volts, rel=ROUNDING)
        assert value(curves[RADIANT], current_a) == pytest.approx(watts, rel=ROUNDING)


@given(share=st.floats(0, 1))
@settings(deadline=None)
def test_curves_are_scipys_pchip(share):
    """Between the points the curve is scipy's monotone cubic, voltage against ln I."""
    curves = curves_of(emitter())
    x = np.log(0.05) + share * (np.log(1.5) - np.log(0.05))
    voltage = PchipInterpolator(np.log(WHITE["current_a"]), WHITE["forward_voltage_v"])
    radiant = PchipInterpolator((0, *WHITE["current_a"]), (0, *WHITE["radiant_flux_w"]))
    assert voltage_v(curves[VOLTAGE], x) == pytest.approx(float(voltage(x)), rel=ROUNDING)
    assert value(curves[RADIANT], 1.5 * share) == pytest.approx(
        float(radiant(1.5 * share)), rel=ROUNDING, abs=ROUNDING
    )


def test_no_current_gives_no_light():
    """The fluxes start at (0, 0)."""
    assert value(curves_of(emitter())[RADIANT], 0.0) == 0.0


def test_continuation_outside_the_points():
    """Below the table the slope in ln I goes on; above it the voltage rises in proportion to I."""
    table = curves_of(emitter())[VOLTAGE]
    low, high = np.log(0.05), np.log(1.5)
    below = [voltage_v(table, low - d) for d in (0.0, 1.0, 2.0)]
    assert below[0] - below[1] == pytest.approx(below[1] - below[2], rel=1e-9)
    assert below[0] - below[1] == pytest.approx(voltage_slope_v(table, low), rel=1e-9)
    above = [voltage_v(table, np.log(current_a)) for current_a in (1.5, 2.0, 2.5)]
    assert above[1] - above[0] == pytest.approx(above[2] - above[1], rel=1e-9)
    assert (above[1] - above[0]) / 0.5 == pytest.approx(
        voltage_slope_v(table, high) / 1.5, rel=1e-9
    )


@given(ln_current=st.floats(-6, 2))
@settings(deadline=None)
def test_slope_is_the_derivative(ln_current):
    """The slope agrees with a central difference, inside the table and beyond."""
    table, step = curves_of(emitter())[VOLTAGE], 1e-5
    if np.abs(np.log(WHITE["current_a"]) - ln_current).min() < step:
        return  # the second derivative jumps there
    difference = voltage_v(table, ln_current + step) - voltage_v(table, ln_current - step)
    assert voltage_slope_v(table, ln_current) == pytest.approx(
        difference / (2 * step), rel=DIFFERENCE
    )


@given(ln_current=st.floats(-6, 2))
@settings(deadline=None)
def test_inverse(ln_current):
    """The current found at a voltage is the one that gives it, inside the table and beyond."""
    table = stacked([emitter()])[0, VOLTAGE]
    again = ln_current_at(table, voltage_v(table, ln_current))
    assert again == pytest.approx(ln_current, rel=INVERSE, abs=INVERSE)


@given(
    first=st.floats(1.5, 3.0),
    rises=st.lists(st.floats(1e-3, 1.0), min_size=1, max_size=6),
    share=st.floats(0, 1),
)
@settings(deadline=None)
def test_rising_points_give_a_rising_invertible_curve(first, rises, share):
    """Whatever the rises between the points, the voltage rises and can be inverted."""
    volts = first + np.concatenate(([0.0], np.cumsum(rises)))
    table = table_of(np.log(np.geomspace(0.01, 2.0, len(volts))), volts)
    goal = volts[0] - 0.5 + share * (volts[-1] - volts[0] + 1.0)
    if volts[0] <= goal <= volts[-1]:
        assert voltage_v(table, ln_current_at(table, goal)) == pytest.approx(goal, rel=INVERSE)
    line = [voltage_v(table, x) for x in np.linspace(np.log(0.005), np.log(3.0), 200)]
    assert np.all(np.diff(line) >= -FLAT_V)


def test_padding_changes_nothing():
    """Tables stacked with longer ones give the same values."""
    short = emitter(junction_c=(25.0, 125.0), radiant_ratio=(1, 0.8), luminous_ratio=(1, 0.8))
    alone, padded = curves_of(short)[RADIANT_RATIO], stacked([short, emitter()])[0, RADIANT_RATIO]
    assert len(padded) > len(alone)
    for at_c in (-20.0, 25.0, 70.0, 125.0, 180.0):
        assert value(padded, at_c) == value(alone, at_c)
        assert within(padded, at_c) == (25.0 <= at_c <= 125.0)


def test_electrical_resistance_is_converted():
    """R_real = R_el P_el / (P_el - radiant): at 0.7 A of 2.99 V with 0.73 W of light."""
    per_electrical_watt = emitter(resistance_convention="electrical", resistance_current_a=0.7)
    power_w = 0.7 * 2.99
    assert real_resistance_k_per_w(per_electrical_watt) == pytest.approx(
        4.0 * power_w / (power_w - 0.73), rel=ROUNDING
    )
    assert real_resistance_k_per_w(emitter()) == 4.0
