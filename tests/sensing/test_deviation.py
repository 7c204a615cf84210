"""One unit off its printed values is the chain of a sensor with those values."""

import math

import numpy as np
import pytest

from derate.sensing import deviation as place
from derate.sensing.adc import bent
from derate.sensing.circuit import HEALTHY, OPEN, from_lamp, ratio_at, unsettled
from derate.sensing.deviation import PLACES, Body, celsius_read, corner_lsb, lsb_at, lsb_ends
from derate.sensing.divider import thermistor_w
from derate.sensing.ntc import ohm_at
from tests.sensing.invented import ARRANGEMENTS, sensor

CELSIUS = np.array([-30.0, 0.0, 25.0, 60.0, 85.0, 110.0])
ROUNDING_LSB = 1e-7
"""Rounding of a few operations on a number of 4096."""
STILL = Body(0.0, 0.0, 0.0, (25.0, 25.0), 2.0, 3950.0)
"""No heat, no lag, no air; 2 A of LED current and the B value of the invented part."""
SAMPLING = {"capacitance_f": 8e-12, "switch_ohm": 1e3, "time_s": 0.4e-6, "previous": 0.9}
NOMINAL = {"series_ohm": 100.0, "parallel_ohm": 220e3, "reference": 3.6}
DISTURBED = {"ground_v_per_a": 0.002, "supply_v_per_a": 0.01}


def off(**by):
    """A deviation with some places set by name."""
    row = np.zeros(len(PLACES))
    for name, value in by.items():
        row[PLACES.index(name)] = value
    return row


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("shape", ["bow", "s"])
def test_a_unit_is_a_chain_with_other_parts(arrangement, shape):
    """All parts and ADC errors at once give the input of a sensor that has those parts."""
    nominal = from_lamp(
        sensor(
            arrangement,
            adc={"inl_shape": shape, "sampling": SAMPLING},
            disturbance=DISTURBED,
            **NOMINAL,
        )
    )
    real = from_lamp(
        sensor(
            arrangement,
            thermistor={"b_value_k": 3950.0 * 1.02, "resistance_25_ohm": 10.3e3},
            adc={
                "inl_shape": shape,
                "sampling": SAMPLING,
                "offset_lsb": 1.5,
                "gain_error": 0.002,
                "inl_lsb": -3.0,
            },
            disturbance=DISTURBED,
            resistor_ohm=9.9e3,
            series_ohm=102.0,
            parallel_ohm=220e3 * 0.97,
            reference=3.6 * 1.01,
        )
    )
    deviation = off(
        resistor=-0.01, series=0.02, parallel=-0.03, r25=0.03, b_value=0.02, reference=0.01,
        offset=1.5, gain=0.002, inl=-3.0, current=1.0, settling=1.0,
    )  # fmt: skip
    for celsius in CELSIUS:
        ratio = unsettled(real, ratio_at(real, celsius, 2.0, HEALTHY), celsius, HEALTHY)
        expected = bent(real.transfer, ratio)
        found = lsb_at(nominal, STILL, deviation, celsius)
        assert found == pytest.approx(expected, abs=ROUNDING_LSB)


def test_drifts_are_tolerances_that_grow():
    """Each drift is the tolerance of its resistor times the distance from 25 degC."""
    circuit = from_lamp(sensor(**NOMINAL))
    for name, drift in (
        ("resistor", "drift"),
        ("series", "series_drift"),
        ("parallel", "parallel_drift"),
    ):
        for celsius in CELSIUS:
            grown = lsb_at(circuit, STILL, off(**{name: 1e-4 * (celsius - 25.0)}), celsius)
            found = lsb_at(circuit, STILL, off(**{drift: 1e-4}), celsius)
            assert found == pytest.approx(grown, abs=ROUNDING_LSB)


def test_supply_warms_and_lag_and_air_weigh():
    """The body's temperature by hand: heat with the square of the supply, lag less the air's share.

    1000 K/W, a quarter of the weight in air of 20 degC, 2 s of lag at 0.5 K/s.
    """
    circuit = from_lamp(sensor())
    body = Body(1000.0, 2.0, 0.25, (20.0, 20.0), 0.0, 3950.0)
    site_c = 80.0
    deviation = off(heating=1.2, supply=0.1, leak=1.0, ramp=0.5)
    passive_c = site_c - 0.25 * (site_c - 20.0) - 0.5 * 0.75 * 2.0
    body_c = passive_c
    for _ in range(50):
        heat_w = thermistor_w(circuit.bridge, ohm_at(circuit.ntc, body_c))
        body_c = passive_c + 1.2 * 1000.0 * 1.1**2 * heat_w
    expected = 4096.0 * ratio_at(circuit, body_c, 0.0, HEALTHY)
    assert lsb_at(circuit, body, deviation, site_c) == pytest.approx(expected, abs=ROUNDING_LSB)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_corners_hold_every_unit_between(arrangement):
    """No unit drawn inside the ends gives an input beyond the corners, and some come near."""
    circuit = from_lamp(
        sensor(arrangement, adc={"sampling": SAMPLING}, disturbance=DISTURBED, **NOMINAL)
    )
    size = off(
        resistor=0.02, drift=2e-4, series=0.05, parallel=0.05, r25=0.05, b_value=0.02, supply=0.05,
        reference=0.02, heating=0.3, current=1.0, settling=1.0, gain=0.01, inl=2.0, offset=2.0,
        dnl=0.5, noise=1.0,
    )  # fmt: skip
    ends = np.stack([-size, size], axis=1)
    for at in (place.CURRENT, place.SETTLING):
        ends[at, 0] = 0.0
    ends[place.HEATING] = 0.7, 1.3
    body = Body(300.0, 1.0, 0.1, (25.0, 25.0), 2.0, 3950.0)
    least, most = corner_lsb(circuit, body, ends, CELSIUS).T
    draws = np.random.default_rng(1).uniform(ends[:, 0], ends[:, 1], (2000, len(PLACES)))
    found = np.array([[lsb_at(circuit, body, row, t) for t in CELSIUS] for row in draws])
    assert np.all((least < found.min(axis=0)) & (found.max(axis=0) < most))
    assert np.all(found.max(axis=0) - found.min(axis=0) > 0.4 * (most - least))


def test_codes_beyond_any_thermistor_read_its_end():
    """An input no thermistor can give is read half a code inside the last that one can."""
    circuit = from_lamp(sensor(parallel_ohm=100e3))
    least, most = lsb_ends(circuit)
    assert least == 0.0
    assert most == pytest.approx(4096 * 100 / 110)
    assert ratio_at(circuit, 0.0, 0.0, OPEN) * 4096 == most
    for beyond, inside in ((-5.0, 0.5), (4000.0, most - 0.5)):
        assert celsius_read(circuit, beyond) == celsius_read(circuit, inside)
        assert math.isfinite(celsius_read(circuit, beyond))
