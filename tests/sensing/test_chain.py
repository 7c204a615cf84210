"""The whole chain: codes, faults, disturbance by the LED current, self-heating, the lamp file."""

import math

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp.driver import Bypass, Driver
from derate.lamp.profile import Event
from derate.sensing.chain import current_at_sample
from derate.sensing.circuit import HEALTHY, OPEN, SHORT, packed, sense, sense_packed, unpacked
from tests.sensing.invented import ARRANGEMENTS, ROUGH, chain, chains, sensor

SAMPLING = {
    "capacitance_f": 8e-12,
    "switch_ohm": 1e3,
    "time_s": 1e-6,
    "filter_capacitance_f": 1e-9,
    "to_pin_ohm": 100.0,
    "previous": 0.4,
}
"""A sample capacitor of a small microcontroller; invented."""
CELSIUS = np.linspace(-40.0, 125.0, 34)


def event(kind, **keys):
    """An event of a profile on the first sensor."""
    return Event(at_s=0.0, kind=kind, sensor="ntc_0", **keys)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_an_ideal_chain_senses_the_ideal_code(arrangement):
    """Without errors and current, the sensed code is the ideal one and reads the temperature."""
    made = chain(arrangement)
    for celsius in CELSIUS:
        assert made.sense(celsius) == made.ideal_code(celsius)
        assert made.reading_c(made.sense(celsius)) == pytest.approx(celsius, abs=0.3)


@pytest.mark.parametrize(("arrangement", "sign"), [("pull-up", -1), ("pull-down", 1)])
def test_direction_of_the_code(arrangement, sign):
    """With a pull-up the code falls as the thermistor warms, with a pull-down it rises."""
    codes = [chain(arrangement).sense(celsius) for celsius in CELSIUS]
    assert np.all(np.diff(codes) * sign > 0)


@pytest.mark.parametrize(
    ("arrangement", "kind", "expected"),
    [
        ("pull-up", "sensor open", 4095),
        ("pull-up", "sensor short", 0),
        ("pull-down", "sensor open", 0),
        ("pull-down", "sensor short", 4095),
    ],
)
def test_broken_wires_lie_at_the_rails(arrangement, kind, expected):
    """An open part reads full scale with a pull-up and 0 with a pull-down; a short the other."""
    assert chain(arrangement).sense(60.0, fault=event(kind)) == expected


def test_errors_show_at_the_rails_too():
    """An open thermistor's code goes through the ADC's errors: an offset keeps it off the rail."""
    low = chain(adc={"offset_lsb": -12.0})
    assert low.sense(60.0, fault=event("sensor open")) == 4096 - 12
    high = chain(adc={"offset_lsb": 12.0})
    assert high.sense(60.0, fault=event("sensor short")) == 12


def test_offset_is_in_kelvin_of_the_thermistor():
    """An offset fault shifts the thermistor, not the code."""
    made = chain()
    fault = event("sensor offset", offset_k=7.5)
    for celsius in CELSIUS:
        assert made.sense(celsius, fault=fault) == made.sense(celsius + 7.5)


def test_a_stuck_sensor_gives_the_held_code():
    """Stuck means the code given by the caller, whatever the temperature; it must be given."""
    made = chain(adc=ROUGH)
    for celsius in CELSIUS:
        assert made.sense(celsius, fault=event("sensor stuck"), held_code=1234) == 1234
    with pytest.raises(ValueError, match="held_code"):
        made.sense(60.0, fault=event("sensor stuck"))


@pytest.mark.parametrize(("arrangement", "sign"), [("pull-up", -1), ("pull-down", 1)])
def test_ground_shift_reads_cold_or_hot(arrangement, sign):
    """Current in a shared ground raises the code: a pull-up reads cold, a pull-down hot.

    1 A through 10 mohm is 10 mV of 3.3 V, 12.4 LSB of 12 bits.
    """
    made = chain(arrangement, disturbance={"ground_v_per_a": 0.010})
    for celsius in (25.0, 60.0, 85.0):
        quiet, loud = made.sense(celsius), made.sense(celsius, 1.0)
        assert loud - quiet in (12, 13)
        assert (made.reading_c(loud) - made.reading_c(quiet)) * sign > 0.1


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_supply_droop_cancels_when_ratiometric(arrangement):
    """A drooping supply leaves a ratiometric code alone."""
    made = chain(arrangement, disturbance={"supply_v_per_a": 0.1})
    assert all(made.sense(celsius, 2.0) == made.sense(celsius) for celsius in CELSIUS)


@pytest.mark.parametrize(("arrangement", "sign"), [("pull-up", 1), ("pull-down", -1)])
def test_supply_droop_against_an_absolute_reference(arrangement, sign):
    """Against an absolute reference it lowers the code: a pull-up reads hot, a pull-down cold."""
    made = chain(arrangement, reference=3.6, disturbance={"supply_v_per_a": 0.033})
    for celsius in (25.0, 60.0, 85.0):
        quiet, loud = made.sense(celsius), made.sense(celsius, 1.0)
        assert loud == pytest.approx(0.99 * quiet, abs=1.5)
        assert (made.reading_c(loud) - made.reading_c(quiet)) * sign > 0.1


@pytest.mark.parametrize(("celsius", "expected_k"), [(85.0, 3.4), (110.0, 4.1)])
def test_ten_percent_of_supply_without_ratiometric_wiring(celsius, expected_k):
    """A supply 10 % off costs 3.4 to 4.1 K at 85 to 110 degC (computed, 10 kohm B 3950 K)."""
    made = chain(reference=3.7, adc={"bits": 16}, disturbance={"supply_v_per_a": 0.33})
    error_k = made.reading_c(made.sense(celsius, 1.0)) - celsius
    assert error_k == pytest.approx(expected_k, abs=0.6)


def test_self_heating_by_hand():
    """10 kohm at 10 kohm on 3.3 V: (3.3 V / 20 kohm)^2 x 10 kohm = 0.272 mW at 25 degC."""
    made = chain()
    assert made.self_heat_w(25.0) == pytest.approx((3.3 / 20e3) ** 2 * 10e3, rel=1e-9)
    assert made.self_heat_w(85.0) < 0.5 * made.self_heat_w(25.0)


def test_noise_repeats_and_sensors_differ():
    """The same numbers give the same codes; two sensors of one lamp never share their noise."""
    noisy = {"noise_lsb": 3.0}
    one, other = chains(sensor(adc=noisy), sensor(adc=noisy))

    def codes(made, **numbers):
        return [made.sense(60.0, tick=tick, **numbers) for tick in range(50)]

    assert codes(one, seed=1, unit=2) == codes(one, seed=1, unit=2)
    assert codes(one, seed=1, unit=2) != codes(other, seed=1, unit=2)
    assert codes(one, seed=1, unit=2) != codes(one, seed=1, unit=3)
    assert codes(one, seed=1, unit=2) != codes(one, seed=2, unit=2)


def test_a_packed_circuit_is_the_same_circuit():
    """Packing and unpacking changes nothing, under the interpreter and compiled."""
    table = [[t, 1e4 * math.exp(3950 / (t + 273.15) - 3950 / 298.15)] for t in range(-40, 130, 5)]
    for thermistor in (None, {"table": table}):
        adc = {**ROUGH, "bits": 10, "dnl_lsb": 0.3, "inl_shape": "s", "sampling": SAMPLING}
        made = chain(
            "pull-down",
            thermistor=thermistor,
            adc=adc,
            reference=3.6,
            series_ohm=47.0,
            parallel_ohm=2e6,
        )
        numbers, rows = packed(made.circuit)
        again = unpacked.py_func(numbers, rows)
        assert again[1:] == made.circuit[1:]
        assert again.ntc[:3] == made.circuit.ntc[:3]
        assert again.ntc.table is made.circuit.ntc.table
        for tick, wires in enumerate((HEALTHY, OPEN, SHORT, HEALTHY)):
            here = (71.3, 0.4, wires, 5, 6, tick)
            expected = sense.py_func(made.circuit, *here)
            assert sense(made.circuit, *here) == expected
            assert sense_packed(numbers, rows, *here) == expected


def test_a_supply_taken_away_is_refused():
    """A droop of the whole supply at full current is refused in a sentence."""
    with pytest.raises(InputError, match="takes away the supply"):
        chain(disturbance={"supply_v_per_a": 2.0}, current_a=2.0)


def test_four_descriptions_of_one_part_agree():
    """Coefficients, points, a table and a B value of the same curve give the same codes."""
    b_k, r25_ohm = 3950.0, 10e3

    def ohm(celsius):
        return r25_ohm * math.exp(b_k / (celsius + 273.15) - b_k / 298.15)

    descriptions = (
        {"b_value_k": b_k, "resistance_25_ohm": r25_ohm},
        {"steinhart_hart": (1 / 298.15 - math.log(r25_ohm) / b_k, 1 / b_k, 0.0)},
        {"points": [(t, ohm(t)) for t in (0.0, 25.0, 85.0)]},
        {"table": [(t, ohm(t)) for t in range(-40, 130, 5)]},
    )
    codes = [
        [chain(thermistor=one, adc={"bits": 16}).ideal_code(t + 0.3) for t in CELSIUS[:-1]]
        for one in descriptions
    ]
    assert np.max(np.ptp(codes, axis=0)) <= 1


def test_a_computed_table_is_doubted():
    """A thermistor table of one B value brings a warning, a table of a real shape none."""
    celsius = np.arange(-40.0, 126.0, 5.0)
    ohm = 1e4 * np.exp(3431 / (celsius + 273.15) - 3431 / 298.15)
    bent = ohm * np.exp(-3e-6 * (celsius - 25.0) ** 2)
    doubted = chain(thermistor={"table": list(zip(celsius, ohm, strict=True))})
    assert any("look computed" in text for text in doubted.warnings)
    assert not chain(thermistor={"table": list(zip(celsius, bent, strict=True))}).warnings


# -- current at the instant of a sample ------------------------------------------------------------

PWM = Driver(dimming="pwm", frequency_hz=1000.0)
ON_A = [1.0, 0.5]


@pytest.mark.parametrize(
    ("time_s", "expected_a"),
    [(0.0, 1.5), (0.00019, 1.5), (0.0003, 1.0), (0.00061, 0.0), (7.0003, 1.0)],
)
def test_free_sampling_meets_the_real_phase(time_s, expected_a):
    """A channel is on while the time since the period began is less than its share."""
    assert current_at_sample(PWM, ON_A, [0.6, 0.2], time_s) == expected_a


def test_whole_periods_are_the_same_phase():
    """Samples a whole number of periods apart, rounded as times are, all meet the beginning."""
    odd = Driver(dimming="pwm", frequency_hz=490.0)
    found = {current_at_sample(odd, ON_A, [0.01, 0.01], tick / 490.0) for tick in range(20000)}
    assert found == {1.5}
    assert any(tick / 490.0 * 490.0 < tick for tick in range(20000)), "no rounding to meet"


def test_samples_inside_on_and_off_time():
    """Inside the on-time every driven channel is on, inside the off-time only those at full."""
    for time_s in (0.0, 0.00037, 1.2345):
        assert current_at_sample(PWM, ON_A, [0.3, 0.0], time_s, "on") == 1.0
        assert current_at_sample(PWM, ON_A, [0.3, 0.9], time_s, "off") == 0.0
        assert current_at_sample(PWM, ON_A, [0.3, 1.0], time_s, "off") == 0.5


def test_the_mean_over_all_phases_is_the_mean_current():
    """Sampled at all phases, the current is on average duty times full current."""
    times_s = (np.arange(1000) + 0.5) / 1000 / 1000.0
    mean_a = np.mean([current_at_sample(PWM, ON_A, [0.25, 0.7], t) for t in times_s])
    assert mean_a == pytest.approx(0.25 * 1.0 + 0.7 * 0.5, abs=1e-9)


def test_dimming_by_current_is_steady():
    """Dimmed by current, the current is duty times full at every instant and for every sampling."""
    driver = Driver(dimming="current")
    for sampling in ("free", "on", "off"):
        assert current_at_sample(driver, ON_A, [0.5, 0.2], 0.77, sampling) == pytest.approx(0.6)


def test_a_string_with_bypass_switches_is_steady():
    """One series string carries its current at every instant while any channel is lit."""
    driver = Driver(dimming="pwm", bypass=Bypass(resistance_ohm=0.02))
    for sampling in ("free", "on", "off"):
        assert current_at_sample(driver, [0.7, 0.7], [0.3, 0.0], 0.77, sampling) == 0.7
        assert current_at_sample(driver, [0.7, 0.7], [0.0, 0.0], 0.77, sampling) == 0.0
