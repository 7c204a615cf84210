"""The divider: direction, inverse, what cancels and what does not, heat in the thermistor."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.divider import (
    Bridge,
    input_ratio,
    ohm_at_share,
    share,
    thermistor_v,
    thermistor_w,
)

PULL_UP = Bridge(True, True, 10e3, 3.3, 3.3)
PULL_DOWN = PULL_UP._replace(pull_up=False)
ohms = st.floats(1.0, 1e7)


@given(ohm=ohms)
def test_arrangements_mirror_each_other(ohm):
    """The two arrangements share the supply between them, and the share inverts."""
    assert share(PULL_UP, ohm) + share(PULL_DOWN, ohm) == pytest.approx(1.0, abs=1e-12)
    for bridge in (PULL_UP, PULL_DOWN):
        assert ohm_at_share(bridge, share(bridge, ohm)) == pytest.approx(ohm, rel=1e-8)


@given(a=ohms, b=ohms)
def test_direction(a, b):
    """More resistance raises the voltage with a pull-up and lowers it with a pull-down."""
    if a < b * (1 - 1e-6):
        assert share(PULL_UP, a) < share(PULL_UP, b)
        assert share(PULL_DOWN, a) > share(PULL_DOWN, b)


@given(droop_v=st.floats(0.0, 1.0), part=st.floats(0.01, 0.99))
def test_droop_cancels_when_ratiometric(droop_v, part):
    """A drooping supply cancels against itself, and not against an absolute reference."""
    absolute = PULL_UP._replace(ratiometric=False, reference_v=2.5)
    assert input_ratio(PULL_UP, part, droop_v, 0.0) == pytest.approx(part, rel=1e-12)
    expected = part * (3.3 - droop_v) / 2.5
    assert input_ratio(absolute, part, droop_v, 0.0) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("bridge", [PULL_UP, PULL_DOWN])
def test_ground_adds_at_the_input(bridge):
    """A ground shift is added to the input whatever the arrangement."""
    assert input_ratio(bridge, 0.4, 0.0, 0.033) == pytest.approx(0.41, rel=1e-12)


@given(ohm=ohms)
def test_heat_is_voltage_squared_over_resistance(ohm):
    """P = V^2 / R in the thermistor; with the fixed resistor's share it is the supply's power."""
    heat_w = thermistor_w(PULL_UP, ohm)
    assert heat_w == pytest.approx(thermistor_v(PULL_UP, ohm) ** 2 / ohm, rel=1e-12)
    fixed_w = (3.3 - thermistor_v(PULL_UP, ohm)) ** 2 / 10e3
    assert heat_w + fixed_w == pytest.approx(3.3**2 / (ohm + 10e3), rel=1e-9)


def test_heat_is_largest_when_matched():
    """The thermistor is hottest where its resistance equals the fixed one."""
    grid = np.geomspace(100.0, 1e6, 4001)
    heat_w = [thermistor_w(PULL_UP, r) for r in grid]
    assert grid[int(np.argmax(heat_w))] == pytest.approx(10e3, rel=0.01)
