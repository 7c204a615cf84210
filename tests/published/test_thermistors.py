"""Thermistor curves against makers' tables, manuals and worked examples.

Each row names its source. *Printed*: the figure stands in the source. *Recalled*: from memory.
*Computed*: evaluated independently from the named data, so that it compares two implementations
and is no published figure.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from derate.sensing.doubts import looks_computed
from derate.sensing.ntc import KELVIN_AT_0_C, resistance_ohm, temperature_c
from derate.sensing.thermistor import (
    b_value_k,
    from_b_value,
    from_coefficients,
    from_points,
    from_table,
)

DATA = Path(__file__).parent / "data"
TABLES = ("ntc_47k_a", "ntc_10k_a", "ntc_10k_b", "ntc_10k_c", "ntc_ratio_d")

PRINTED_7_DIGITS_K = 0.001
"""Coefficients printed to seven digits place R25 within a millikelvin."""
PRINTED_4_DIGITS_K = 0.05
"""Four to five digits cost up to 0.03 K at 25 degC."""
COMPUTED_K = 0.002
"""Rows computed to three decimals."""


def table(name):
    """Temperatures [degC] and resistances [ohm] of a table of the data folder."""
    lines = (DATA / f"{name}.csv").read_text().splitlines()
    rows = [line.split(",") for line in lines if line[:1] not in "#t"]
    return np.array(rows, float).T


def at(name, celsius):
    """Resistance [ohm] of a table at one of its own temperatures [degC]."""
    t, r = table(name)
    return float(r[t == celsius][0])


def through(name, *celsius):
    """Steinhart-Hart through three rows of a table."""
    return from_points(celsius, [at(name, t) for t in celsius])


def errors_k(ntc, name, low_c, high_c):
    """Computed minus printed temperature [K] at the rows of a table within a range."""
    t, r = table(name)
    inside = (t >= low_c) & (t <= high_c)
    return temperature_c(ntc, r[inside]) - t[inside]


def largest(values):
    """The value of largest size, with its sign."""
    return float(values[np.argmax(np.abs(values))])


# -- coefficients that manuals print with the resistance they belong to ---------------------------

NEWPORT = "Newport, Model 6000 manual p. 65, Table 7; 25 degC follows from the curve's nominal R25"
CAMPBELL = "Campbell Scientific, 109SS manual, Appendix C, Table C-1, coefficients p. 8"
KEITHLEY = "Keithley, Model 2700 user manual p. F-6, Table F-9"
CORNERSTONE = "Cornerstone Sensors, A, B, C Coefficients p. 2; temperatures recalled (curve F)"
CAMPBELL_108 = "Campbell Scientific FAQ 736; 100 kohm at 25 degC from the HMP35C manual, 2.1"

PRINTED = [
    # source, a, b, c, ohm, degC, tolerance [K]
    (NEWPORT, 1.942952e-3, 2.989769e-4, 3.504383e-7, 100, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.627660e-3, 2.933316e-4, 2.870016e-7, 300, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.373419e-3, 2.771785e-4, 1.999768e-7, 1000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.498872e-3, 2.379047e-4, 1.066953e-7, 2000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.471388e-3, 2.376138e-4, 1.051058e-7, 2252, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.405027e-3, 2.369386e-4, 1.012660e-7, 3000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.129241e-3, 2.341077e-4, 8.775470e-8, 10000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 1.028444e-3, 2.392435e-4, 1.562216e-7, 10000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 9.331750e-4, 2.213978e-4, 1.263817e-7, 30000, 25, PRINTED_7_DIGITS_K),
    (NEWPORT, 9.657150e-4, 2.106840e-4, 8.585480e-8, 50000, 25, PRINTED_7_DIGITS_K),
    (CAMPBELL, 1.129241e-3, 2.341077e-4, 8.775468e-8, 336103.2, -40, 0.005),
    (CAMPBELL, 1.129241e-3, 2.341077e-4, 8.775468e-8, 97006.9, -20, 0.005),
    (CAMPBELL, 1.129241e-3, 2.341077e-4, 8.775468e-8, 32650.9, 0, 0.005),
    (CAMPBELL_108, 8.271111e-4, 2.088020e-4, 8.0592e-8, 100000, 25, PRINTED_7_DIGITS_K),
    (KEITHLEY, 1.4733e-3, 2.372e-4, 1.074e-7, 2252, 25, PRINTED_4_DIGITS_K),
    (KEITHLEY, 1.288e-3, 2.356e-4, 9.557e-8, 5000, 25, PRINTED_4_DIGITS_K),
    (KEITHLEY, 1.0295e-3, 2.391e-4, 1.568e-7, 10000, 25, PRINTED_4_DIGITS_K),
    (CORNERSTONE, 1.0285252918524e-3, 2.39232798557799e-4, 1.56247897191246e-7, 10000, 25, 1e-3),
    (CORNERSTONE, 1.0285252918524e-3, 2.39232798557799e-4, 1.56247897191246e-7, 29490, 0, 1e-3),
]


@pytest.mark.parametrize(("source", "a", "b", "c", "ohm", "celsius", "tolerance_k"), PRINTED)
def test_printed_coefficients(source, a, b, c, ohm, celsius, tolerance_k):
    """Printed coefficients give the temperature printed or nominal for a resistance."""
    assert temperature_c(from_coefficients(a, b, c), ohm) == pytest.approx(
        celsius, abs=tolerance_k
    ), source


def test_truncated_coefficients_shift_the_reading():
    """Coefficients cut to six digits cost 0.013 to 0.027 K.

    Computed from coefficients printed in the Campbell Scientific 109SS manual, p. 8.
    """
    exact = from_coefficients(1.129241e-3, 2.341077e-4, 8.775468e-8)
    cut = from_coefficients(1.129e-3, 2.34108e-4, 8.77547e-8)
    celsius = np.array([-40.0, 0.0, 25.0, 60.0])
    shift_k = temperature_c(cut, resistance_ohm(exact, celsius)) - celsius
    assert shift_k == pytest.approx([0.013, 0.018, 0.021, 0.027], abs=0.001)


def test_the_misplaced_parenthesis_is_not_ours():
    """Negative control: the formula as misprinted in a manual is 11 K off ours at 100 kohm.

    Campbell Scientific, 108-L manual, Table 8-2, p. 11, prints 1/(A + B ln R) + C (ln R)^3; that it
    gives 36.35 degC is computed.
    """
    a, b, c, log_ohm = 8.271111e-4, 2.088020e-4, 8.0592e-8, math.log(100e3)
    misprint_c = 1.0 / (a + b * log_ohm) + c * log_ohm**3 - KELVIN_AT_0_C
    assert misprint_c == pytest.approx(36.35, abs=0.01)
    assert abs(float(temperature_c(from_coefficients(a, b, c), 100e3)) - misprint_c) > 11.0


def test_zero_of_kelvin_is_273_15():
    """3000 ohm reads 24.992 degC with 273.15 and would read 24.942 with 273.2.

    Coefficients printed in RST Instruments, VW2100 manual, p. 33; readings computed.
    """
    ntc = from_coefficients(1.4051e-3, 2.369e-4, 1.019e-7)
    assert temperature_c(ntc, 3000.0) == pytest.approx(24.992, abs=0.001)


# -- three points ----------------------------------------------------------------------------------


def test_three_points_give_these_coefficients():
    """The coefficients through (-50, 2045), (25, 100), (100 degC, 15 ohm), to six digits.

    Points: Electronic Design, "Software Linearization Techniques For Thermistors", article
    21773682; coefficients computed independently with a general linear solver.
    """
    ntc = from_points([-50, 25, 100], [2045, 100, 15])
    assert ntc[:3] == pytest.approx((0.00174017983, 0.000345189612, 2.47578966e-07), rel=1e-6)


def test_a_misprinted_row_is_found_by_its_neighbours():
    """The row printed as 5331 ohm at 40 degC is 5231 ohm by the six others.

    ILX Lightwave, LDC-3900 manual, Appendix A, Table A.1, p. 180; the corrected value is computed.
    """
    t = np.array([0.0, 10.0, 20.0, 25.0, 30.0, 50.0])
    r = np.array([32128.0, 19549.0, 12262.0, 9814.0, 7908.0, 3542.0])
    log_ohm = np.log(r)
    terms = np.column_stack([np.ones_like(t), log_ohm, log_ohm**3])
    fitted = np.linalg.lstsq(terms, 1.0 / (t + KELVIN_AT_0_C), rcond=None)[0]
    implied = float(resistance_ohm(from_coefficients(*fitted), 40.0))
    assert implied == pytest.approx(5231.0, abs=1.0)
    assert abs(implied - 5331.0) > 90.0


SPANS = [
    # table, largest error [K] through 0, 50, 100 in 0..100 degC, and through 0, 25, 50 in 0..50
    ("ntc_47k_a", 0.043, 0.008),
    ("ntc_10k_a", 0.089, 0.021),
    ("ntc_10k_b", 0.018, 0.007),
    ("ntc_10k_c", 0.083, 0.047),
    ("ntc_ratio_d", 0.006, 0.005),
]


@pytest.mark.parametrize(("name", "wide_k", "narrow_k"), SPANS)
def test_three_points_predict_the_rest_of_a_table(name, wide_k, narrow_k):
    """Three rows of a maker's table predict the rows between them within the stated residual.

    Tables: sources in the heads of the data files; residuals computed independently from them.
    """
    wide = errors_k(through(name, 0, 50, 100), name, 0, 100)
    narrow = errors_k(through(name, 0, 25, 50), name, 0, 50)
    assert np.max(np.abs(wide)) == pytest.approx(wide_k, abs=0.001)
    assert np.max(np.abs(narrow)) == pytest.approx(narrow_k, abs=0.001)


BETA_AND_THREE = [
    # table, B25/50, B25/85, B25/100 over 0..125 degC, three points 0, 60, 125 there,
    # B25/85 over -40..125 degC, three points -40, 40, 125 there; largest signed errors [K]
    ("ntc_47k_a", 3.864, 1.899, 1.137, -0.066, 3.016, 0.216),
    ("ntc_10k_a", 4.216, 1.977, 1.284, -0.121, 3.820, 0.259),
    ("ntc_10k_b", 4.101, 1.928, 1.208, 0.027, 4.315, -0.079),
    ("ntc_10k_c", 3.606, 1.635, 0.934, 0.058, 3.078, -0.135),
    ("ntc_ratio_d", 2.619, 1.193, 0.796, 0.006, 2.932, -0.036),
]


@pytest.mark.parametrize(
    ("name", "b50", "b85", "b100", "three", "b85_wide", "wide"), BETA_AND_THREE
)
def test_b_value_against_three_points(name, b50, b85, b100, three, b85_wide, wide):
    """A B value errs by kelvins where three points err by hundredths; each error as stated.

    Tables: sources in the heads of the data files; errors computed independently from them.
    """

    def by_b(second_c):
        b_k = b_value_k(25.0, at(name, 25), second_c, at(name, second_c))
        return from_b_value(b_k, at(name, 25))

    for second_c, expected_k in ((50, b50), (85, b85), (100, b100)):
        error_k = largest(errors_k(by_b(second_c), name, 0, 125))
        assert error_k == pytest.approx(expected_k, abs=COMPUTED_K)
    assert largest(errors_k(through(name, 0, 60, 125), name, 0, 125)) == pytest.approx(
        three, abs=COMPUTED_K
    )
    assert largest(errors_k(by_b(85), name, -40, 125)) == pytest.approx(b85_wide, abs=COMPUTED_K)
    assert largest(errors_k(through(name, -40, 40, 125), name, -40, 125)) == pytest.approx(
        wide, abs=COMPUTED_K
    )


# -- makers' tables --------------------------------------------------------------------------------

LEFT_OUT_K = 0.1
"""Rows 10 K apart predict those half way; rounding to 1 ohm is worth 0.04 K at the hot end."""


@pytest.mark.parametrize("name", TABLES)
def test_a_table_returns_its_own_rows(name):
    """The curve through a table meets every row of it, both ways."""
    t, r = table(name)
    ntc = from_table(t, r)
    assert temperature_c(ntc, r) == pytest.approx(t, abs=1e-9)
    assert resistance_ohm(ntc, t) == pytest.approx(r, rel=1e-12)


@pytest.mark.parametrize("name", TABLES)
def test_every_other_row_predicts_the_rows_between(name):
    """From rows 10 K apart the rows between them follow, within the rounding of the print."""
    t, r = table(name)
    kept = slice(None, None, 2) if len(t) % 2 else slice(1, None, 2)
    ntc = from_table(t[kept], r[kept])
    inside = (t >= t[kept][0]) & (t <= t[kept][-1])
    assert np.max(np.abs(temperature_c(ntc, r[inside]) - t[inside])) < LEFT_OUT_K


FOUR_TERMS = (-14.195756, 4407.4785, -5165.873, -14017368.0)
"""ln(Rt/R25) = A + B/T + C/T^2 + D/T^3 of Material Type 1, printed in the guide of ntc_ratio_d."""


def four_terms_ohm(celsius):
    """The printed four-term equation, for R25 = 10 kohm [ohm]."""
    x = 1.0 / (np.asarray(celsius, float) + KELVIN_AT_0_C)
    a, b, c, d = FOUR_TERMS
    return 1e4 * np.exp(a + b * x + c * x**2 + d * x**3)


def test_between_rows_a_table_follows_the_makers_equation():
    """Between rows 5 K apart the curve stays within 0.02 K of the equation printed with them.

    Amphenol Thermometrics, Sensor Temperature Resistance Curves Reference Guide, Rev. C, 2014. The
    ratios are printed to four digits, worth up to 0.016 K.
    """
    ntc = from_table(*table("ntc_ratio_d"))
    celsius = np.linspace(-40.0, 135.0, 1751)
    assert np.max(np.abs(temperature_c(ntc, four_terms_ohm(celsius)) - celsius)) < 0.02


@pytest.mark.parametrize(("first", "second", "printed_k"), [(0, 70, 3917), (25, 85, 3977)])
def test_b_values_printed_with_the_equation(first, second, printed_k):
    """B of the printed equation is the printed B, to its last digit (same guide)."""
    b_k = b_value_k(first, float(four_terms_ohm(first)), second, float(four_terms_ohm(second)))
    assert b_k == pytest.approx(printed_k, abs=0.6)


B_OF_TABLES = [
    ("ntc_10k_c", 100, 3950.0, 4.0, "EPCOS/TDK data sheet B57891S, March 2013, p. 2 (printed)"),
    ("ntc_47k_a", 50, 4050.0, 2.0, "Murata NCP catalogue R44E (recalled)"),
    ("ntc_10k_a", 50, 3380.0, 2.0, "Murata NCP catalogue R44E (recalled)"),
]


@pytest.mark.parametrize(("name", "second_c", "b_k", "tolerance_k", "source"), B_OF_TABLES)
def test_b_value_of_a_table(name, second_c, b_k, tolerance_k, source):
    """B from two rows of a table is the B its maker states."""
    found_k = b_value_k(25.0, at(name, 25), second_c, at(name, second_c))
    assert found_k == pytest.approx(b_k, abs=tolerance_k), source


def test_a_table_computed_from_one_b_is_noticed():
    """The table withdrawn in 2025 is seen to be computed; no measured one is taken for that."""
    assert looks_computed(*table("ntc_10k_a_wrong"))
    assert not any(looks_computed(*table(name)) for name in TABLES)


LINEAR_IN_R = [
    ("ntc_47k_a", 0.235),
    ("ntc_10k_a", 0.196),
    ("ntc_10k_b", 0.186),
    ("ntc_10k_c", 0.220),
]
"""Largest error [K] of straight lines in R between rows 5 K apart, -40..125 degC."""


@pytest.mark.parametrize(("name", "expected_k"), LINEAR_IN_R)
def test_straight_lines_between_rows_read_hot(name, expected_k):
    """Against our curve, straight lines in R between the rows err as stated, never to the cold.

    The method is the kernel's (heads of the data files); the errors were computed independently
    with a cubic spline for the truth.
    """
    t, r = table(name)
    celsius = np.linspace(-40.0, 125.0, 16501)
    straight_c = np.interp(resistance_ohm(from_table(t, r), celsius), r[::-1], t[::-1])
    assert np.max(straight_c - celsius) == pytest.approx(expected_k, abs=0.003)
    assert np.min(straight_c - celsius) > -1e-9


def test_what_the_wrong_table_costs():
    """Reading a true part by the withdrawn table errs by up to 3.9 K, as stated row by row.

    Both tables from the kernel, which draws straight lines in R; the differences are computed.
    Our smooth curve through the same table departs from the lines by at most 0.2 K, to the cold.
    """
    t, r = table("ntc_10k_a_wrong")
    celsius = np.array([-40, 0, 25, 60, 85, 105, 120])
    ohm = np.array([at("ntc_10k_a", t) for t in celsius])
    stated_k = np.array([3.94, 1.26, 0.0, -0.29, 0.06, 0.93, 1.87])
    assert np.interp(ohm, r[::-1], t[::-1]) - celsius == pytest.approx(stated_k, abs=0.02)
    ours_k = temperature_c(from_table(t, r), ohm) - celsius
    assert np.all((stated_k - ours_k > -0.02) & (stated_k - ours_k < 0.2))


def test_a_single_mistyped_row_is_seen_against_the_table():
    """2586 ohm is 65 degC, not the 64 once shipped (zephyr pull request 113947, printed)."""
    ntc = from_table(*table("ntc_10k_a"))
    assert temperature_c(ntc, 2586.0) == pytest.approx(65.0, abs=1e-9)


# -- B value ---------------------------------------------------------------------------------------


def test_b_from_two_points_of_a_textbook():
    """9.00 kohm at 0 degC and 0.50 kohm at 100 degC: B = 2944.2 K, 3.62 kohm at 25 degC.

    Bentley, Principles of Measurement Systems, problem 2.2, as printed in a third party's solution,
    which iterates to four digits.
    """
    b_k = b_value_k(0.0, 9e3, 100.0, 0.5e3)
    assert b_k == pytest.approx(2944.2, abs=2.5)
    r25_ohm = 9e3 * math.exp(b_k * (1 / 298.15 - 1 / 273.15))
    assert resistance_ohm(from_b_value(b_k, r25_ohm), 0.0) == pytest.approx(9e3, rel=1e-9)
    assert r25_ohm == pytest.approx(3.62e3, abs=30.0)


def test_temperature_by_b_far_from_the_reference():
    """20 kohm at 373 K, B = 3650 K: 500 ohm is 598.7 K.

    Printed in a worked solution of problem 8.5 of Figliola and Beasley (title recalled).
    """
    r25_ohm = 20e3 * math.exp(3650.0 * (1 / 298.15 - 1 / 373.0))
    kelvin = float(temperature_c(from_b_value(3650.0, r25_ohm), 500.0)) + KELVIN_AT_0_C
    assert kelvin == pytest.approx(598.7, abs=0.1)


def test_ice_and_steam_point():
    """7360 ohm at 0 degC and 153 ohm at 100 degC: B = 3.94e3 K and 1.31 kohm at 37 degC.

    Tipler and Mosca, a problem; its answers are recalled, three digits each.
    """
    b_k = b_value_k(0.0, 7360.0, 100.0, 153.0)
    r25_ohm = 7360.0 * math.exp(b_k * (1 / 298.15 - 1 / 273.15))
    assert b_k == pytest.approx(3.94e3, rel=0.007)
    assert resistance_ohm(from_b_value(b_k, r25_ohm), 37.0) == pytest.approx(1.31e3, rel=0.007)


@pytest.mark.parametrize(
    ("second_c", "factor_k"), [(50, 3853.887), (85, 1779.707), (100, 1483.396)]
)
def test_factor_of_the_b_value(second_c, factor_k):
    """B = factor x ln(R1/R2); the factor for 25/50, 25/85, 25/100 (definition: Murata R44E)."""
    assert b_value_k(25.0, math.e, second_c, 1.0) == pytest.approx(factor_k, abs=0.001)
