"""Slopes of the monotone cubic against the library that has them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from derate.monotone import slopes

ROUNDING = 1e-12
"""Relative to the steepest secant: a dozen operations."""
NUMBER = st.floats(-10.0, 10.0).map(lambda value: round(value, 3))


@given(st.lists(st.tuples(st.floats(0.01, 10.0), NUMBER), min_size=2, max_size=9))
def test_slopes_are_those_of_the_library(steps):
    """Whatever the points, flat pieces and turns among them, every slope is the library's."""
    x, y = np.cumsum([step for step, _ in steps]), np.array([each for _, each in steps])
    expected = PchipInterpolator(x, y).derivative()(x)
    steepest = np.abs(np.diff(y) / np.diff(x)).max()
    assert slopes(x, y) == pytest.approx(expected, rel=ROUNDING, abs=ROUNDING * steepest)
