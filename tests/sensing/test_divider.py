"""The divider: direction, inverse, what cancels and what does not, heat in the thermistor."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.divider import (
    Bridge,
    input_ratio,
    leg_ohm,
    ohm_at_share,
    share,
    source_ohm,
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


# -- resistors in series and in parallel -----------------------------------------------------------

BENT_UP = PULL_UP._replace(series_ohm=330.0, parallel_ohm=22e3)
BENT_DOWN = BENT_UP._replace(pull_up=False)


@pytest.mark.parametrize("bridge", [BENT_UP, BENT_DOWN])
def test_the_leg_by_hand(bridge):
    """22 kohm across 22 kohm is 11 kohm, and 330 ohm more; open leaves 22.33 kohm, short 330."""
    assert leg_ohm(bridge, 22e3) == pytest.approx(11330.0, rel=1e-12)
    assert leg_ohm(bridge, np.inf) == pytest.approx(22330.0, rel=1e-12)
    assert leg_ohm(bridge, 0.0) == 330.0
    assert leg_ohm(PULL_UP, 5e3) == 5e3
    up = 11330.0 / 21330.0
    assert share(bridge, 22e3) == pytest.approx(up if bridge.pull_up else 1.0 - up, rel=1e-12)


def test_broken_wires_without_extra_resistors_reach_the_rails():
    """Open and shorted thermistors give 1 and 0 with a pull-up, the other way with a pull-down."""
    assert [share(PULL_UP, np.inf), share(PULL_UP, 0.0)] == [1.0, 0.0]
    assert [share(PULL_DOWN, np.inf), share(PULL_DOWN, 0.0)] == [0.0, 1.0]
    assert share.py_func(PULL_UP, np.inf) == 1.0


@given(
    ohm=st.floats(10.0, 1e6),
    series_ohm=st.floats(0.0, 1e4),
    parallel_ohm=st.one_of(st.floats(1e3, 1e6), st.just(np.inf)),
    pull_up=st.booleans(),
)
def test_extra_resistors_invert_exactly(ohm, series_ohm, parallel_ohm, pull_up):
    """The thermistor's resistance comes back through series and parallel resistors.

    A resistor of p across r, or of s before it, costs (r + p)/p, or (r + s)/r, of the digits.
    """
    bridge = Bridge(pull_up, True, 10e3, 3.3, 3.3, series_ohm, parallel_ohm)
    lost = (1.0 + ohm / parallel_ohm) ** 2 * (1.0 + (1e4 + series_ohm) / ohm)
    lost *= 1.0 + ohm / 10e3
    found = ohm_at_share(bridge, share(bridge, ohm))
    assert found == pytest.approx(ohm, rel=1e-14 * lost)


@given(ohm=ohms)
def test_heat_with_extra_resistors_is_the_supplys(ohm):
    """The heat of all four resistors together is what the supply gives."""
    leg = leg_ohm(BENT_UP, ohm)
    current_a = 3.3 / (leg + 10e3)
    voltage_v = thermistor_v(BENT_UP, ohm)
    others_w = voltage_v**2 / 22e3 + current_a**2 * (330.0 + 10e3)
    assert thermistor_w(BENT_UP, ohm) + others_w == pytest.approx(3.3 * current_a, rel=1e-9)


@given(ohm=ohms)
def test_the_source_is_both_legs_side_by_side(ohm):
    """Thevenin: the open voltage over the short-circuit current of the divider."""
    leg = leg_ohm(BENT_UP, ohm)
    open_v, short_a = 3.3 * share(BENT_UP, ohm), 3.3 / 10e3
    assert source_ohm(BENT_UP, ohm) == pytest.approx(open_v / short_a, rel=1e-9)
    assert source_ohm(BENT_DOWN, ohm) == pytest.approx(leg * 10e3 / (leg + 10e3), rel=1e-9)
    assert source_ohm(PULL_UP, 0.0) == 0.0
