"""A sensor whose parts lie off is one with those parts, and its firmware does not know."""

import numpy as np
import pytest

from derate.lamp.tolerance import Deviation, Tolerance
from derate.sensing.adc import bent
from derate.sensing.circuit import (
    HEALTHY,
    OPEN,
    SHORT,
    from_lamp,
    heat_packed,
    packed,
    ratio_at,
    sampled_ratio,
    sense,
    sense_packed,
    unpacked,
    unsettled,
)
from derate.sensing.contribution import STEADY, causes_of
from derate.sensing.deviation import Body, lsb_at
from derate.sensing.divider import thermistor_w
from derate.sensing.ntc import ohm_at
from derate.sensing.parts import PRINTED, transfer_of
from derate.sensing.window import fault_window
from tests.sensing.invented import ARRANGEMENTS, chain, chains, sensor
from tests.sensing.test_deviation import CELSIUS, DISTURBED, NOMINAL, SAMPLING, off

ROUNDING = 1e-12
"""Relative, of a few operations in another order."""
STILL = Body(0.0, 0.0, 0.0, (25.0, 25.0), 2.0, 3950.0)
STATES = (HEALTHY, OPEN, SHORT)


def made(arrangement="pull-up", deviation=None, tolerance=None, **keys):
    """An invented sensor whose parts lie off."""
    update = {
        "deviation": Deviation(**(deviation or {})),
        "tolerance": Tolerance(**(tolerance or {})),
    }
    return sensor(arrangement, **keys).model_copy(update=update)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_parts_that_lie_off_are_other_parts(arrangement):
    """Codes are those of a sensor on whose parts the deviating values are printed."""
    keys = {"disturbance": DISTURBED, **NOMINAL}
    off_by = {"resistor": -0.01, "series": 0.02, "parallel": -0.03, "r25": 0.03, "b_value": 0.02}
    more = {"reference": 0.01, "offset_lsb": 1.5, "gain": 0.002}
    unit = from_lamp(made(arrangement, off_by | more, adc={"sampling": SAMPLING}, **keys))
    other = {"series_ohm": 102.0, "parallel_ohm": 220e3 * 0.97, "reference": 3.6 * 1.01}
    real = from_lamp(
        sensor(
            arrangement,
            thermistor={"b_value_k": 3950.0 * 1.02, "resistance_25_ohm": 10.3e3},
            adc={"sampling": SAMPLING, "offset_lsb": 1.5, "gain_error": 0.002},
            resistor_ohm=9.9e3,
            **(keys | other),
        )
    )
    for celsius in CELSIUS:
        for wires in STATES:
            ratio = unsettled(real, ratio_at(real, celsius, 2.0, wires), celsius, wires)
            found = sampled_ratio(unit, celsius, 2.0, wires)
            assert found == pytest.approx(ratio, rel=ROUNDING, abs=ROUNDING)
            assert sense(unit, celsius, 2.0, wires, 0, 0, 0) == sense(
                real, celsius, 2.0, wires, 0, 0, 0
            )


def test_drifts_are_deviations_that_grow():
    """Each drift is the deviation of its resistor times the distance from 25 degC."""
    for name in ("resistor", "series", "parallel"):
        drifting = from_lamp(made(deviation={f"{name}_drift_per_k": 1e-4}, **NOMINAL))
        for celsius in CELSIUS:
            grown = from_lamp(made(deviation={name: 1e-4 * (celsius - 25.0)}, **NOMINAL))
            found = sampled_ratio(drifting, celsius, 0.0, HEALTHY)
            assert found == pytest.approx(sampled_ratio(grown, celsius, 0.0, HEALTHY), rel=ROUNDING)


def test_a_supply_off_its_print_counts_against_a_reference_of_its_own():
    """Ratiometric it cancels; against a fixed reference the input goes with it."""
    for reference, factor in (("ratiometric", 1.0), (3.6, 1.05)):
        printed = from_lamp(made(reference=reference))
        unit = from_lamp(made(deviation={"supply": 0.05}, reference=reference))
        found = sampled_ratio(unit, 60.0, 0.0, HEALTHY)
        assert found == pytest.approx(factor * sampled_ratio(printed, 60.0, 0.0, HEALTHY))


def test_a_thermistor_of_coefficients_lies_off_too():
    """R25 is a factor on any curve, and a B value off by 1 % tilts it about 25 degC."""
    thermistor = {"steinhart_hart": [1.129e-3, 2.341e-4, 8.775e-8]}
    printed = from_lamp(made(thermistor=thermistor))
    unit = from_lamp(made(deviation={"r25": 0.03, "b_value": 0.01}, thermistor=thermistor))
    for celsius in CELSIUS:
        tilt = np.exp(0.01 * printed.spread.b_k * (1 / (celsius + 273.15) - 1 / 298.15))
        ohm = 1.03 * tilt * ohm_at(printed.ntc, celsius)
        expected = ohm / (ohm + 10e3)
        assert sampled_ratio(unit, celsius, 0.0, HEALTHY) == pytest.approx(expected, rel=ROUNDING)


def test_the_run_and_the_budget_see_the_same_unit():
    """The input that a run's chain computes is that of the budget's chain for equal deviations."""
    size = {"resistor": -0.008, "r25": 0.02, "b_value": -0.01, "supply": 0.03, "reference": 0.004}
    drift = {"resistor_drift_per_k": 8e-5}
    unit = from_lamp(made(deviation=size | drift, reference=2.5, disturbance=DISTURBED))
    for celsius in CELSIUS:
        row = off(**size, drift=8e-5, current=1.0, offset=0.3, gain=0.001)
        adc = transfer_of(unit.transfer, PRINTED._replace(offset_lsb=0.3, gain=0.001))
        found = bent(adc, sampled_ratio(unit, celsius, 2.0, HEALTHY))
        expected = lsb_at(unit._replace(parts=PRINTED), STILL, row, celsius)
        assert found == pytest.approx(expected, rel=ROUNDING)


def test_own_heat_goes_with_dissipation_supply_and_parts():
    """Heat grows with the square of the supply, and a rise 20 % larger is 20 % more heat."""
    printed = from_lamp(made())
    by = {"dissipation": 0.2, "supply": -0.1, "r25": 0.05, "resistor": 0.01}
    unit = from_lamp(made(deviation=by))
    bridge = printed.bridge._replace(resistor_ohm=10.1e3, supply_v=3.3 * 0.9)
    expected = 1.2 * thermistor_w(bridge, 1.05 * ohm_at(printed.ntc, 70.0))
    assert heat_packed(*packed(unit), 70.0) == pytest.approx(expected, rel=ROUNDING)


def test_the_firmware_does_not_know():
    """Table and fault window are those of the printed parts, whatever the unit's parts are."""
    deviation = {"resistor": 0.03, "r25": -0.1, "b_value": 0.02, "offset_lsb": 9.0, "gain": 0.01}
    (unit,) = chains(made(deviation=deviation))
    printed = chain()
    assert np.array_equal(unit.lookup.knots, printed.lookup.knots)
    assert np.array_equal(unit.lookup.centi_c, printed.lookup.centi_c)
    assert unit.lookup.window == printed.lookup.window
    assert unit.ideal_code(60.0) == printed.ideal_code(60.0)
    assert unit.sense(60.0) != printed.sense(60.0)
    read_c = unit.reading_c(unit.sense(60.0))
    assert abs(read_c - printed.reading_c(printed.sense(60.0))) > 1.0


def test_deviations_pass_through_a_packed_circuit():
    """Two arrays hold the parts of a unit as well."""
    names = [name for name in Deviation.model_fields if name != "resistor_drift_per_k"]
    deviation = {name: 1e-3 * (1 + i) for i, name in enumerate(names)}
    keys = {"reference": 3.6, "adc": {"noise_lsb": 0.7}} | {
        key: ohm for key, ohm in NOMINAL.items() if key != "reference"
    }
    unit = from_lamp(made(deviation=deviation, **keys))
    numbers, rows = packed(unit)
    assert unpacked.py_func(numbers, rows).parts == unit.parts
    assert len(set(unit.parts)) == len(unit.parts)
    for tick, wires in enumerate(STATES):
        here = (71.3, 0.4, wires, 5, 6, tick)
        assert sense_packed(numbers, rows, *here) == sense.py_func(unit, *here)


def test_windows_and_budget_allow_for_the_converter():
    """Tolerances of offset and gain count as the printed errors of another converter would."""
    loose = made(adc={"offset_lsb": 1.0}, tolerance={"offset_lsb": 3.0, "gain": 0.01})
    printed = made(adc={"offset_lsb": 4.0, "gain_error": 0.01})
    range_c = (-30.0, 110.0)
    assert fault_window(from_lamp(loose), range_c) == fault_window(from_lamp(printed), range_c)
    ends = [
        {cause.place: (cause.low, cause.high) for cause in causes_of(one, STEADY)}
        for one in (loose, printed)
    ]
    assert ends[0] == ends[1]
