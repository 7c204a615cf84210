"""The error budget against makers' worked examples, and the traps of a 10 kohm divider in figures.

*Printed*: the figure stands in the source. *Computed*: evaluated independently, by hand or from
the named data, so that it compares two implementations and is no published figure.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from derate.lamp.sensor import Sensor
from derate.lamp.tolerance import Tolerance
from derate.sensing.budget import budget
from derate.sensing.circuit import celsius_at_lsb, from_lamp, ideal_lsb
from derate.sensing.design import kelvin_per_code
from derate.sensing.ntc import KELVIN_AT_0_C, resistance_ohm
from derate.sensing.reading_table import readings
from derate.sensing.thermistor import from_b_value

LINEARISED_K = 0.03
"""The makers divide by the slope at one point; our budget walks along the curve to both limits."""
PRINTED_2_DECIMALS_K = 0.005
TABLE_ROUNDING = 0.01
"""Four printed digits of neighbouring rows leave their slope uncertain by up to this share."""
TABLE_ROUNDING_K = 0.05
SMALL_ROOM_CODES = 0.06
"""Figures of the trade are rounded to 0.1 code and whole codes."""


def sensor(thermistor, *, tolerance=None, bits=12, adc=None, body_k_per_w=1e-6, **divider):
    """A pull-up of 10 kohm on 3.3 V, ratiometric and exact unless told otherwise."""
    return Sensor(
        at="board",
        resistance_k_per_w=body_k_per_w,
        capacitance_j_per_k=0.0,
        thermistor=thermistor,
        divider={
            "arrangement": "pull-up",
            "resistor_ohm": 10e3,
            "supply_v": 3.3,
            "reference": "ratiometric",
            **divider,
        },
        adc={"bits": bits, **(adc or {})},
        tolerance=Tolerance(**(tolerance or {})),
    )


def of_slope(slope_per_k, celsius):
    """A B-value part of 10 kohm whose resistance falls by ``slope_per_k`` [1/K] there."""
    return {
        "b_value_k": slope_per_k * (celsius + KELVIN_AT_0_C) ** 2,
        "resistance_25_ohm": 10e3,
    }


def printed_part(**keys):
    """The ratio table D of the data folder, whose head names its source, as a part of 10 kohm."""
    lines = (Path(__file__).parent / "data" / "ntc_ratio_d.csv").read_text().splitlines()
    rows = [tuple(map(float, line.split(","))) for line in lines if line[:1] not in "#t"]
    return sensor({"table": rows}, **keys)


def half_width_k(found, *names):
    """Half the distance of the limits of some contributions together, at the first temperature."""
    picked = [one for one in found.contributions if one.name in names]
    assert len(picked) == len(names)
    return sum(one.worst_high_k[0] - one.worst_low_k[0] for one in picked) / 2


@pytest.mark.parametrize(
    ("tolerance", "slope_per_k", "celsius", "printed_k"),
    [
        pytest.param(0.05, 0.029, 100.0, 1.72, id="EPCOS data book 05/02 pp. 147-149, 100 degC"),
        pytest.param(0.083, 0.041, 35.0, 2.02, id="EPCOS data book 05/02 pp. 147-149, 35 degC"),
        pytest.param(0.05, 0.044, 25.0, 1.14, id="AVX NTC catalogue, section 2.1.6"),
    ],
)
def test_resistance_tolerance_in_kelvin(tolerance, slope_per_k, celsius, printed_k):
    """A resistance tolerance over the slope is the temperature tolerance (printed examples)."""
    made = sensor(of_slope(slope_per_k, celsius), tolerance={"r25": tolerance})
    found = half_width_k(budget(made, celsius), "R25 tolerance")
    assert found == pytest.approx(printed_k, abs=PRINTED_2_DECIMALS_K + LINEARISED_K)
    assert tolerance / slope_per_k == pytest.approx(printed_k, abs=PRINTED_2_DECIMALS_K)


def test_slope_carries_a_resistance_two_kelvin_on():
    """4.7 kohm x 2.2739 at 5 degC with 4.4 %/K: 0.9163 of it, 9.7932 kohm, at 7 degC.

    EPCOS, Standardized R/T Characteristics, data book 05/02, pp. 147-149 (printed). It is the B
    value of ``of_slope``, on which the examples above rest.
    """
    ntc = from_b_value(of_slope(0.044, 5.0)["b_value_k"], 10e3)
    five, seven = resistance_ohm(ntc, [5.0, 7.0])
    printed_4_digits = 5e-5
    assert seven / five == pytest.approx(0.9163, abs=printed_4_digits)
    of_the_rounded_ratio_ohm = 10.6873e3 * printed_4_digits
    found_ohm = 4.7e3 * 2.2739 * seven / five
    assert found_ohm == pytest.approx(9793.2, abs=of_the_rounded_ratio_ohm)


def test_r25_and_b_tolerance_together():
    """5 % of R25 and 0.89 % by B at 0 degC, slope 5.08 %/K: 1.17 K.

    Vishay BCcomponents data sheet 29049, 10-Oct-03, p. 73 (printed).
    """
    part = of_slope(0.0508, 0.0)
    span = 1.0 / KELVIN_AT_0_C - 1.0 / (25.0 + KELVIN_AT_0_C)
    b_tolerance = math.log(1.0089) / (part["b_value_k"] * span)
    made = sensor(part, tolerance={"r25": 0.05, "b_value": b_tolerance})
    found = half_width_k(budget(made, 0.0), "R25 tolerance", "B tolerance")
    assert found == pytest.approx(1.17, abs=PRINTED_2_DECIMALS_K + LINEARISED_K)


@pytest.mark.parametrize(
    ("k_per_w", "expected_k"), [(1e3, 0.272), (500.0, 0.136), (1e3 / 3, 0.091), (1e3 / 3.5, 0.078)]
)
def test_self_heating_of_the_common_divider(k_per_w, expected_k):
    """10 kohm at 10 kohm on 3.3 V for 1, 2, 3 and 3.5 mW/K (computed).

    The factor, one over the resistance here, is printed over such a range for one package size.
    """
    found = budget(printed_part(body_k_per_w=k_per_w), 25.0)
    (heat,) = [one for one in found.contributions if one.name == "self-heating"]
    assert heat.worst_high_k[0] == pytest.approx(expected_k, abs=0.001)


TRAP_C = (-40.0, 0.0, 25.0, 60.0, 85.0, 105.0, 125.0)
KELVIN_PER_LSB = (0.1308, 0.0267, 0.0223, 0.0425, 0.0885, 0.1632, 0.2954)


def test_one_code_in_kelvin():
    """10 kohm at 10 kohm and 12 bits: 0.02 K at 25 degC, 0.16 K at 105 degC, 0.30 K at 125 degC.

    Computed from the maker's printed equation, here from the table (source in the data file).
    """
    made = from_lamp(printed_part())
    inside = slice(1, -1)  # at its first and last row a table has no neighbour to one side
    found = kelvin_per_code(made, TRAP_C)
    np.testing.assert_allclose(found[inside], KELVIN_PER_LSB[inside], rtol=TABLE_ROUNDING)
    np.testing.assert_allclose(found, KELVIN_PER_LSB, rtol=5 * TABLE_ROUNDING)


def test_a_converter_error_costs_most_at_the_threshold():
    """5 LSB cost 0.44 K at 85 degC, 0.82 K at 105 degC and 1.48 K at 125 degC (computed)."""
    found = budget(printed_part(adc={"offset_lsb": 5.0}), [85.0, 105.0, 125.0])
    (offset,) = [one for one in found.contributions if one.name == "ADC offset"]
    half_k = (offset.worst_high_k - offset.worst_low_k) / 2
    np.testing.assert_allclose(half_k, [0.44, 0.82, 1.48], rtol=2 * TABLE_ROUNDING)


@pytest.mark.parametrize(
    ("share", "fires_c"), [(0.05, 108.84), (0.1, 83.81), (0.9, -18.74), (0.95, -31.23)]
)
def test_fixed_margins_fire_inside_the_working_range(share, fires_c):
    """A window of 5 % for a short is met at 109 degC, of 10 % at 84 degC (computed, same table)."""
    circuit = from_lamp(printed_part())
    assert celsius_at_lsb(circuit, 4096 * share) == pytest.approx(fires_c, abs=TABLE_ROUNDING_K)
    window = budget(printed_part(), 25.0).study.table.window
    assert window.short_fires_c > 125.0
    assert not -40.0 < window.open_fires_c < 125.0


def test_an_open_thermistor_reads_as_the_coldest():
    """Without its window the table takes an open part for the coldest temperature; with it, not.

    The kernel driver of ntc_thermistor.c once clamped so, and now returns an error at 0, at the
    supply, and outside of the table (Linux, drivers/hwmon/ntc_thermistor.c, printed).
    """
    table = budget(printed_part(), 25.0).study.table
    assert readings(table, 4095) == pytest.approx(-4000, abs=10)
    assert table.window.open_code <= 4095
    assert table.window.low_code >= 0


B_3950 = {"b_value_k": 3950.0, "resistance_25_ohm": 10e3}


@pytest.mark.parametrize(
    ("resistor_ohm", "k_per_code", "room_codes"), [(10e3, 0.76, 24.0), (2.2e3, 0.23, 4.6)]
)
def test_the_trade_of_the_pull_up(resistor_ohm, k_per_code, room_codes):
    """10 to 2.2 kohm at 10 bits: 0.76 to 0.23 K per code at 110 degC, 24 to 4.6 codes below open.

    Computed for B 3950 K by hand: 1023 - 1024 R / (R + Rf) at -40 degC.
    """
    circuit = from_lamp(sensor(B_3950, bits=10, resistor_ohm=resistor_ohm))
    assert kelvin_per_code(circuit, 110.0) == pytest.approx(k_per_code, abs=PRINTED_2_DECIMALS_K)
    room = 1023.0 - ideal_lsb(circuit, -40.0)
    assert room == pytest.approx(room_codes, rel=SMALL_ROOM_CODES)


def test_ten_percent_of_reference():
    """A reference 10 % off costs 3.4 to 4.1 K at 85 to 110 degC, ratiometric nothing (computed)."""
    celsius = [85.0, 110.0]
    made = sensor(B_3950, reference=3.3, tolerance={"reference": 0.1})
    (found,) = [
        one for one in budget(made, celsius).contributions if one.name == "reference tolerance"
    ]
    errors_k = np.abs([found.worst_low_k, found.worst_high_k])
    rounding_k = 0.05
    assert errors_k.min() == pytest.approx(3.4, abs=rounding_k)
    assert errors_k.max() == pytest.approx(4.1, abs=rounding_k)
    ratiometric = budget(sensor(B_3950, tolerance={"reference": 0.1}), celsius)
    assert half_width_k(ratiometric, "reference tolerance") == 0.0
