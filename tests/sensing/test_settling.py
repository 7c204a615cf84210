"""The sample capacitor: against its differential equations, limits, direction in the chain."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from derate.errors import InputError
from derate.sensing.circuit import HEALTHY, OPEN, SHORT, ideal_lsb, packed, unsettled
from derate.sensing.divider import source_ohm
from derate.sensing.settling import AT_ONCE, Hold, left_over
from tests.sensing.invented import ARRANGEMENTS, chain

HOLD = Hold(8e-12, 1e3, 0.5e-6, 0.0, 0.0, 0.0)
"""A sample capacitor of 8 pF through 1 kohm for 0.5 us; invented."""
SAMPLING = {"capacitance_f": 8e-12, "switch_ohm": 1e3, "time_s": 0.5e-6, "previous": 0.0}
ROUNDING = 1e-9
"""Rounding of the matrix exponential of a stiff pair, relative to the full difference."""


def left_by_matrix(hold, source):
    """Share left in the sample, by the exponential of the two capacitors' equations."""
    into_filter = 1.0 / (source + hold.to_pin_ohm)
    through = 1.0 / hold.switch_ohm
    rates = np.array(
        [
            [-(into_filter + through) / hold.filter_f, through / hold.filter_f],
            [through / hold.capacitance_f, -through / hold.capacitance_f],
        ]
    )
    return float((expm(rates * hold.time_s) @ [0.0, 1.0])[1])


def test_without_a_filter_it_is_one_exponential():
    """9 kohm and 1 kohm into 8 pF for 0.5 us leave exp(-6.25)."""
    assert left_over(HOLD, 9e3) == pytest.approx(math.exp(-6.25), rel=1e-12)
    assert left_over(HOLD._replace(to_pin_ohm=4e3), 5e3) == pytest.approx(math.exp(-6.25))
    assert left_over(AT_ONCE, 9e3) == 0.0


def test_the_sample_follows_its_differential_equation():
    """An integrator that knows only C dv/dt = i ends at the same voltage, with a filter too."""
    hold = HOLD._replace(filter_f=100e-12)

    def slopes(_, volts):
        through_a = (volts[0] - volts[1]) / hold.switch_ohm
        return [((0.6 - volts[0]) / 9e3 - through_a) / hold.filter_f, through_a / 8e-12]

    end = solve_ivp(slopes, (0.0, 0.5e-6), [0.6, 0.1], rtol=1e-10, atol=1e-12).y[1, -1]
    assert 0.6 + (0.1 - 0.6) * left_over(hold, 9e3) == pytest.approx(end, abs=1e-8)


@given(
    source=st.floats(1.0, 1e6),
    to_pin=st.floats(0.0, 1e4),
    switch=st.floats(10.0, 1e4),
    filter_f=st.floats(1e-12, 1e-6),
    time_s=st.floats(1e-8, 1e-4),
)
def test_two_capacitors_share_exactly(source, to_pin, switch, filter_f, time_s):
    """The closed form is the matrix exponential of the pair, for any sizes."""
    hold = Hold(8e-12, switch, time_s, filter_f, to_pin, 0.0)
    assert left_over(hold, source) == pytest.approx(left_by_matrix(hold, source), abs=ROUNDING)


def test_a_large_filter_shares_the_charge():
    """Once the switch has settled and before the source helps, Cs / (Cs + Cf) is left."""
    hold = HOLD._replace(filter_f=1e-9, switch_ohm=100.0)
    assert left_over(hold, 1e9) == pytest.approx(8e-12 / (8e-12 + 1e-9), rel=1e-5)


def test_a_vanishing_filter_is_none():
    """As the capacitor at the pin goes to nothing, the pair becomes the single exponential."""
    assert left_over(HOLD._replace(filter_f=1e-18), 9e3) == pytest.approx(
        left_over(HOLD, 9e3), rel=1e-4
    )


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_the_residue_pulls_towards_the_channel_before(arrangement):
    """The code moves towards the previous channel by the share left, and not at that voltage."""
    for celsius in (0.0, 25.0, 85.0):
        plain = chain(arrangement, adc={"bits": 16})
        lsb = ideal_lsb(plain.circuit, celsius)
        source = source_ohm(
            plain.circuit.bridge, 10e3 * math.exp(3950 / (celsius + 273.15) - 3950 / 298.15)
        )
        left = math.exp(-0.5e-6 / ((source + 1e3) * 8e-12))
        for previous in (0.0, 0.3, 1.0):
            made = chain(
                arrangement, adc={"bits": 16, "sampling": {**SAMPLING, "previous": previous}}
            )
            expected = lsb + (previous * 65536 - lsb) * left
            assert made.sense(celsius) == pytest.approx(expected, abs=1.0)


WARM = {"b_value_k": 3950.0, "resistance_25_ohm": 10e3, "range_c": (0.0, 100.0)}


def test_two_microseconds_are_enough_and_a_fifth_is_not():
    """5 kohm of source and 8 pF: 2 us is exact to a code of 12 bits, 0.2 us costs 1.5 %."""
    exact = chain()
    slow = chain(adc={"sampling": {**SAMPLING, "time_s": 2e-6}})
    assert slow.sense(25.0) == exact.sense(25.0)
    quick = chain(adc={"sampling": {**SAMPLING, "time_s": 0.2e-6}}, thermistor=WARM)
    assert exact.sense(25.0) - quick.sense(25.0) in (31, 32)


def test_too_little_time_is_refused():
    """Where the residue hides an open wire, the refusal names the sampling time."""
    with pytest.raises(InputError, match=r"open one.*a longer adc\.sampling\.time"):
        chain(adc={"sampling": {**SAMPLING, "time_s": 0.1e-6}}, thermistor=WARM)


def test_the_source_of_a_broken_wire():
    """Open leaves the fixed resistor as the source, a short leaves none."""
    circuit = chain(adc={"sampling": SAMPLING}).circuit
    left = math.exp(-0.5e-6 / ((10e3 + 1e3) * 8e-12))
    assert unsettled(circuit, 1.0, 25.0, OPEN) == pytest.approx(1.0 - left, rel=1e-12)
    left = math.exp(-0.5e-6 / (1e3 * 8e-12))
    assert unsettled(circuit, 0.5, 25.0, SHORT) == pytest.approx(0.5 * (1.0 - left), rel=1e-12)
    assert unsettled(circuit, 0.0, 25.0, HEALTHY) == 0.0


def test_windows_allow_for_the_residue_of_either_rail():
    """Whatever the channel before held, healthy stays healthy and broken is seen as broken."""
    tight = {**SAMPLING, "time_s": 0.35e-6}
    window = chain(adc={"sampling": tight}).lookup.window
    assert window != chain().lookup.window
    for previous in (0.0, 0.5, 1.0):
        made = chain(adc={"sampling": {**tight, "previous": previous}})
        assert made.lookup.window == window
        for celsius in (-40.0, 125.0):
            assert not math.isnan(made.reading_c(made.sense(celsius)))
        numbers = [
            unsettled(made.circuit, end, 25.0, wires) for end, wires in ((1.0, OPEN), (0.0, SHORT))
        ]
        assert math.isnan(made.reading_c(min(int(4096 * numbers[0]), 4095)))
        assert math.isnan(made.reading_c(int(4096 * numbers[1])))


def test_an_unused_capacitor_takes_no_part():
    """Without sampling in the file the packed circuit holds a capacitor of nothing."""
    numbers, _ = packed(chain().circuit)
    assert tuple(numbers[18:24]) == AT_ONCE
