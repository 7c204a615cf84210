"""Broken lines through a corridor: always inside, monotone, few segments."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.sensing.corridor import PRODUCT_LIMIT, fewest_corners

FINE = 1e5
"""Whole-number steps per unit, so fine that rounding of the corners hardly matters."""
POINTS = 2001


def line(corners, count):
    """The broken line at every index."""
    at, value = np.array(corners, float).T
    return np.interp(np.arange(count), at, value)


@given(
    steps=st.lists(st.floats(0.01, 300.0), min_size=1, max_size=200),
    tolerance=st.floats(0.5, 50.0),
    falling=st.booleans(),
)
def test_the_line_stays_in_the_corridor(steps, tolerance, falling):
    """For any monotone curve the line is within the tolerance everywhere, and monotone too."""
    curve = np.cumsum([7.3, *steps]) * (-1 if falling else 1)
    corners = fewest_corners(curve, tolerance)
    found = line(corners, len(curve))
    assert np.max(np.abs(found - curve)) <= tolerance + 1e-6
    assert np.all(np.diff(found) * (-1 if falling else 1) >= -1e-9)
    assert [corners[0][0], corners[-1][0]] == [0, len(curve) - 1]
    assert all(a[0] < b[0] for a, b in itertools.pairwise(corners))


@pytest.mark.parametrize(
    ("tolerance", "least", "interpolating"), [(1e-2, 4, 5), (1e-3, 11, 15), (1e-4, 33, 46)]
)
def test_segments_for_the_exponential(tolerance, least, interpolating):
    """exp(x) on 0..1 takes the least number of segments with free corners, as analysis gives it.

    Computed: for a convex curve the greedy line is the best possible; lines with their corners on
    the curve need more.
    """
    curve = FINE * np.exp(np.linspace(0.0, 1.0, POINTS))
    segments = len(fewest_corners(curve, FINE * tolerance)) - 1
    assert segments == pytest.approx(least, abs=1)
    assert segments < interpolating


FOUR_TERMS = (-14.195756, 4407.4785, -5165.873, -14017368.0)
"""ln(Rt/R25) = A + B/T + C/T^2 + D/T^3: Amphenol Thermometrics, Sensor Temperature Resistance
Curves Reference Guide, Rev. C, November 2014, Material Type 1 (printed)."""


def material_1_c(codes):
    """Temperature [degC] of 12-bit codes, 10 kohm part at 10 kohm to the supply."""
    celsius = np.linspace(-20.0, 140.0, 160001)
    x = 1.0 / (celsius + 273.15)
    a, b, c, d = FOUR_TERMS
    ratio = np.exp(a + b * x + c * x**2 + d * x**3)
    full = 4096.0 * ratio / (ratio + 1.0)
    return np.interp(codes, full[::-1], celsius[::-1])


@pytest.mark.parametrize(
    ("tolerance_k", "least", "interpolating"),
    [(1.0, 5, 6), (0.5, 6, 9), (0.25, 10, 13), (0.1, 14, 21), (0.05, 21, 29)],
)
def test_segments_for_a_thermistor(tolerance_k, least, interpolating):
    """Codes 135..3135: no fewer segments than the bound, no more than the best on the curve.

    Computed rows for the printed equation: lower bound with free corners, best line with its
    corners on the curve.
    """
    curve = 3e3 * material_1_c(np.arange(135, 3136))
    segments = len(fewest_corners(curve, 3e3 * tolerance_k)) - 1
    assert least <= segments <= interpolating


@settings(max_examples=20)
@given(height=st.floats(1e4, 6e4), count=st.integers(20000, 66000))
def test_products_stay_in_32_bits(height, count):
    """However long a straight stretch is, the firmware's product fits 32 bits."""
    corners = fewest_corners(np.linspace(0.0, height, count), 5.0)
    for (at, value), (end, end_value) in itertools.pairwise(corners):
        assert 2 * abs(end_value - value) * (end - at) + (end - at) <= PRODUCT_LIMIT


def test_a_single_step_needs_one_segment():
    """Two points are one segment, whatever lies between their values."""
    assert len(fewest_corners(np.array([0.0, 1e4]), 1.0)) == 2
    assert math.isclose(fewest_corners(np.array([0.0, 1e4]), 1.0)[1][1], 1e4, abs_tol=1.0)
