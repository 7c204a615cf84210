"""The error budget: each cause alone against a chain changed by hand, and the sums of all."""

import math

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp import load, starter_text
from derate.sensing.budget import budget, error_band
from derate.sensing.circuit import celsius_at_lsb, from_lamp, ideal_lsb
from derate.sensing.contribution import Situation, situation_of
from derate.sensing.lookup import ideal_reading_c
from derate.sensing.reading_table import readings
from tests.sensing.invented import ARRANGEMENTS, sensor
from tests.sensing.toleranced import DISTURBED, exact, named, toleranced

CELSIUS = np.array([-30.0, 0.0, 25.0, 60.0, 85.0, 110.0])
ROUNDING_K = 1e-6
"""Two ways to the same number through logarithms and exponentials."""
LOST_IN_CODES_K = 1e-9
BUSY = Situation(current_a=2.0, ramp_k_per_s=0.5, ambient_c=(10.0, 40.0))


def read_as(nominal, real):
    """Errors [K] when the table of ``nominal`` reads the chain of ``real``, not truncated."""
    ideal, changed = from_lamp(nominal), from_lamp(real)
    return np.array([celsius_at_lsb(ideal, ideal_lsb(changed, t)) - t for t in CELSIUS])


def band(found, name):
    """Least and most of one contribution, stacked."""
    one = named(found, name)
    return np.array([one.worst_low_k, one.worst_high_k])


def ends(*errors_k):
    """Least and most of errors at each temperature."""
    return np.array([np.min(errors_k, axis=0), np.max(errors_k, axis=0)])


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_resistor_tolerance_is_a_chain_with_another_resistor(arrangement):
    """1 % on the fixed resistor reads as the table of 10 kohm reads 9.9 and 10.1 kohm."""
    made = exact(arrangement, tolerance={"resistor": 0.01})
    others = [read_as(made, sensor(arrangement, resistor_ohm=ohm)) for ohm in (9.9e3, 10.1e3)]
    found = band(budget(made, CELSIUS), "resistor tolerance")
    np.testing.assert_allclose(found, ends(*others), atol=ROUNDING_K)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_resistor_drift_grows_from_25_c(arrangement):
    """100 ppm/K is nothing at 25 degC, and 0.6 % of the resistor at 85 degC."""
    drifting = budget(exact(arrangement, tolerance={"resistor_drift_per_k": 1e-4}), CELSIUS)
    wrong = budget(exact(arrangement, tolerance={"resistor": 0.006}), CELSIUS)
    at_25, at_85 = CELSIUS == 25.0, CELSIUS == 85.0
    drift = band(drifting, "resistor drift")
    assert np.all(np.abs(drift[:, at_25]) < LOST_IN_CODES_K)
    expected = band(wrong, "resistor tolerance")[:, at_85]
    np.testing.assert_allclose(drift[:, at_85], expected, atol=ROUNDING_K)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_each_resistor_counts_for_itself(arrangement):
    """Resistors in series and across the thermistor are other resistors of 1 % less and more."""
    extra = {"series_ohm": 200.0, "parallel_ohm": 150e3}
    made = exact(arrangement, tolerance={"resistor": 0.01}, **extra)
    found = budget(made, CELSIUS)
    for key, name in (("series_ohm", "series"), ("parallel_ohm", "parallel")):
        others = [
            read_as(made, sensor(arrangement, **{**extra, key: extra[key] * factor}))
            for factor in (0.99, 1.01)
        ]
        expected = ends(*others)
        assert np.ptp(expected) > ROUNDING_K
        np.testing.assert_allclose(
            band(found, f"{name} resistor tolerance"), expected, atol=ROUNDING_K
        )
    assert not any("series" in one.name for one in budget(exact(), CELSIUS).contributions)


def test_what_the_channel_before_leaves():
    """8 pF through 5 kohm and 1 kohm in 0.4 us at 25 degC: exp(-0.4 us / 48 ns) of half the scale.

    The channel before stood at full scale, so that a pull-up reads cold, or left nothing.
    """
    left = {"capacitance_f": 8e-12, "switch_ohm": 1e3, "time_s": 0.4e-6, "previous": 1.0}
    made = exact(adc={"sampling": left})
    found = band(budget(made, 25.0), "settling and ghosting")[:, 0]
    circuit = from_lamp(made)
    lsb = 2048.0 + 2048.0 * math.exp(-0.4e-6 / (6e3 * 8e-12))
    expected_k = celsius_at_lsb(circuit, lsb) - 25.0
    assert expected_k < -0.005
    np.testing.assert_allclose(found, [expected_k, 0.0], atol=ROUNDING_K)
    assert not named(budget(exact(), 25.0), "settling and ghosting").counts


def test_thermistor_tolerances_are_other_thermistors():
    """R25 and B tolerances read as the nominal table reads parts of that R25 and that B value."""
    made = exact(tolerance={"r25": 0.05, "b_value": 0.02})
    found = budget(made, CELSIUS)

    def part(b_k, r25_ohm):
        return read_as(made, sensor(thermistor={"b_value_k": b_k, "resistance_25_ohm": r25_ohm}))

    np.testing.assert_allclose(
        band(found, "R25 tolerance"),
        ends(part(3950.0, 9.5e3), part(3950.0, 10.5e3)),
        atol=ROUNDING_K,
    )
    np.testing.assert_allclose(
        band(found, "B tolerance"),
        ends(part(3950.0 * 0.98, 10e3), part(3950.0 * 1.02, 10e3)),
        atol=ROUNDING_K,
    )


def test_reference_counts_only_when_absolute():
    """A reference 2 % off is another reference voltage; ratiometric it is nothing, and told."""
    made = exact(reference=3.6, tolerance={"reference": 0.02})
    others = [read_as(made, sensor(reference=3.6 * factor)) for factor in (0.98, 1.02)]
    found = band(budget(made, CELSIUS), "reference tolerance")
    np.testing.assert_allclose(found, ends(*others), atol=ROUNDING_K)
    ratiometric = budget(exact(tolerance={"reference": 0.02}), CELSIUS)
    assert not named(ratiometric, "reference tolerance").counts
    assert "counts for nothing" in ratiometric.notes[0]


def test_supply_counts_only_against_an_absolute_reference():
    """A supply 2 % off is another supply voltage; ratiometric it cancels."""
    made = exact(reference=3.6, tolerance={"supply": 0.02})
    others = [
        read_as(made, sensor(reference=3.6, supply_v=3.3 * factor)) for factor in (0.98, 1.02)
    ]
    found = band(budget(made, CELSIUS), "supply tolerance")
    np.testing.assert_allclose(found, ends(*others), atol=ROUNDING_K)
    cancelled = band(budget(exact(tolerance={"supply": 0.02}), CELSIUS), "supply tolerance")
    assert np.max(np.abs(cancelled)) < ROUNDING_K


@pytest.mark.parametrize(
    ("key", "name"),
    [("offset_lsb", "ADC offset"), ("inl_lsb", "ADC INL"), ("gain_error", "ADC gain")],
)
def test_adc_errors_count_to_both_sides(key, name):
    """An ADC error of either sign in the lamp file is a limit to both sides."""
    size = 0.01 if key == "gain_error" else 2.0
    plus, minus = (band(budget(exact(adc={key: sign * size}), CELSIUS), name) for sign in (1, -1))
    np.testing.assert_array_equal(plus, minus)
    assert np.all(plus[0] < 0.0)
    assert np.all(plus[1] > 0.0)


def test_lsb_errors_by_hand():
    """2 LSB of offset, 4 sigma of noise of 0.5 LSB, DNL, half a code, read by the ideal chain."""
    made = exact(adc={"offset_lsb": 2.0, "noise_lsb": 1.0, "oversampling": 4, "dnl_lsb": 0.75})
    circuit = from_lamp(made)
    found = budget(made, CELSIUS)
    for name, lsb in (
        ("ADC offset", 2.0),
        ("ADC noise", 2.0),
        ("ADC DNL", 0.75),
        ("quantisation", 0.5),
    ):
        errors = [
            [celsius_at_lsb(circuit, ideal_lsb(circuit, t) + sign * lsb) - t for t in CELSIUS]
            for sign in (1, -1)
        ]
        np.testing.assert_allclose(band(found, name), ends(*errors), atol=ROUNDING_K)


def test_self_heating_spreads_by_the_dissipation():
    """0.272 mW at 25 degC into 10 K/W reads 2.7 mK hot, 30 % more or less with its tolerance."""
    found = band(budget(exact(tolerance={"dissipation": 0.3}), 25.0), "self-heating")
    heat_k = (3.3 / 20e3) ** 2 * 10e3 * 10.0
    shrinking = 1e-4  # the body's own rise changes its power by less than this share
    np.testing.assert_allclose(found[:, 0], [0.7 * heat_k, 1.3 * heat_k], rtol=shrinking)


def test_leak_to_ambient_reads_cold():
    """A body tied 10 K/W to 85 degC and 90 K/W to air of 25 degC stands a tenth of 60 K below."""
    leaky = exact().model_copy(update={"to_ambient_k_per_w": 90.0})
    found = band(budget(leaky, [25.0, 85.0]), "leak to ambient")
    np.testing.assert_allclose(found, [[0.0, -6.0], [0.0, -6.0]], atol=ROUNDING_K)
    assert not named(budget(exact(), 85.0), "leak to ambient").counts


def test_lag_is_ramp_times_time_constant():
    """10 K/W times 0.05 J/K lags half a second: 1 K cold on the way up at 2 K/s, hot down."""
    found = band(budget(exact(), CELSIUS, situation=Situation(ramp_k_per_s=2.0)), "lag")
    np.testing.assert_allclose(found, [[-1.0] * 6, [1.0] * 6], atol=ROUNDING_K)


def test_led_current_is_there_or_not():
    """10 mV of ground shift at 1 A reads cold with a pull-up, as 12.4 LSB do, or nothing."""
    made = exact(disturbance={"ground_v_per_a": 0.010})
    found = band(budget(made, CELSIUS, situation=Situation(current_a=1.0)), "LED current")
    circuit = from_lamp(made)
    lsb = 4096 * 0.010 / 3.3
    errors = [celsius_at_lsb(circuit, ideal_lsb(circuit, t) + lsb) - t for t in CELSIUS]
    np.testing.assert_allclose(found, [errors, np.zeros(6)], atol=ROUNDING_K)


def test_table_error_is_that_of_the_firmware_codes():
    """The table counts with its own largest error, and no more, where every code is in reach."""
    made = exact(adc={"offset_lsb": 12.0})
    found = budget(made, 60.0)
    chosen = found.study.table
    at = int(ideal_lsb(found.study.circuit, 60.0))
    codes = np.arange(at - 12, at + 13)
    wrong_k = readings(chosen, codes) / chosen.scale - ideal_reading_c(found.study.circuit, codes)
    table = band(found, "table")[:, 0]
    assert table[0] == pytest.approx(wrong_k.min(), abs=ROUNDING_K)
    assert table[1] == pytest.approx(wrong_k.max(), abs=ROUNDING_K)
    assert np.max(np.abs(table)) <= chosen.error_k + ROUNDING_K


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_the_sums_are_of_the_contributions(arrangement):
    """Worst is the sum of signed extremes; bias and rss are the middles and the halves."""
    found = budget(toleranced(arrangement, disturbance=DISTURBED), CELSIUS, situation=BUSY)
    low = np.array([one.worst_low_k for one in found.contributions])
    high = np.array([one.worst_high_k for one in found.contributions])
    assert np.all(low <= high)
    np.testing.assert_allclose(found.worst_low_k, low.sum(axis=0), atol=ROUNDING_K)
    np.testing.assert_allclose(found.worst_high_k, high.sum(axis=0), atol=ROUNDING_K)
    np.testing.assert_allclose(found.bias_k, (low + high).sum(axis=0) / 2, atol=ROUNDING_K)
    rss = [math.hypot(*half) for half in ((high - low) / 2).T]
    np.testing.assert_allclose(found.rss_k, rss, atol=ROUNDING_K)
    assert all(one.why for one in found.contributions)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_corners_lie_near_the_worst_sum(arrangement):
    """Away from the ends of the range the true corner is near the sum of extremes.

    The sum leaves out that errors bend each other; the corner knows that table and code are not
    at their worst together. These invented parts need 15 %.
    """
    found = budget(toleranced(arrangement, disturbance=DISTURBED), CELSIUS, situation=BUSY)
    np.testing.assert_allclose(found.corner_low_k, found.worst_low_k, rtol=0.15)
    np.testing.assert_allclose(found.corner_high_k, found.worst_high_k, rtol=0.15)


def test_error_band_covers_both():
    """The band for guard bands is the wider of sum and corner, at its temperature."""
    made = toleranced(disturbance=DISTURBED)
    found = budget(made, 85.0, situation=BUSY)
    low_k, high_k = error_band(made, 85.0, situation=BUSY)
    assert low_k == min(found.worst_low_k[0], found.corner_low_k[0]) < 0.0
    assert high_k == max(found.worst_high_k[0], found.corner_high_k[0]) > 0.0


def test_readings_saturate_at_the_ends():
    """At the hottest working temperature the table reads at most that: the corner says so."""
    made = toleranced()
    found = budget(made, made.thermistor.range_c[1])
    assert found.corner_high_k[0] < 0.1 < found.worst_high_k[0]


def test_readings_lost_to_the_fault_window_are_told():
    """A reference 5 % low lifts the coldest reading to full scale, as an open part: told."""
    made = exact(reference=3.3, tolerance={"reference": 0.05})
    found = budget(made, [-40.0, 25.0])
    assert len(found.lost) == 1
    assert "at -40 degC the most code" in found.lost[0]
    assert not budget(made, [25.0]).lost


def test_budget_of_a_lamp_file(tmp_path):
    """A lamp file gives sensor and full current; without temperatures the range is covered."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    lamp = load(path)
    assert situation_of(lamp).current_a == pytest.approx(1.7)
    found = budget(lamp.sensors["ntc"], situation=situation_of(lamp))
    range_c = lamp.sensors["ntc"].thermistor.range_c
    assert (found.temperatures_c[0], found.temperatures_c[-1]) == range_c
    assert named(found, "LED current").counts


def test_outside_the_range_is_refused():
    """A budget outside the working range is refused in a sentence."""
    with pytest.raises(InputError, match="found 130 degC, due a temperature within"):
        budget(exact(), [25.0, 130.0])
