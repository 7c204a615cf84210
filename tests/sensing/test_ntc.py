"""The thermistor's curve: both ways, everywhere, from every description."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.sensing.ntc import (
    KELVIN_AT_0_C,
    celsius_at,
    ohm_at,
    resistance_ohm,
    temperature_c,
)
from derate.sensing.thermistor import from_b_value, from_coefficients, from_points, from_table

GRID_C = np.linspace(-55.0, 200.0, 256)
ROUND_TRIP_K = 1e-9
"""Rounding of a logarithm and a cubic; a hundred thousandth of the table's last digit."""
TYPICAL = (1.129e-3, 2.341e-4, 8.775e-8)
"""Coefficients of an ordinary 10 kohm part, rounded."""

b_values_k = st.floats(2500.0, 5000.0)
r25_ohms = st.floats(1e2, 1e6)


def table_of(ntc, step_c=5.0, digits=None):
    """Rows of a maker's table for a curve, with so many digits printed."""
    celsius = np.arange(-55.0, 201.0, step_c)
    ohm = resistance_ohm(ntc, celsius)
    return celsius, ohm if digits is None else [float(f"{r:.{digits}g}") for r in ohm]


@given(b_k=b_values_k, r25_ohm=r25_ohms, bend=st.floats(-0.1, 0.5))
def test_round_trip(b_k, r25_ohm, bend):
    """Temperature to resistance and back, for every sign and size of the cubic coefficient."""
    c = bend / b_k / 3.0 / max(1.0, np.log(r25_ohm)) ** 2
    a = 1.0 / 298.15 - np.log(r25_ohm) / b_k - c * np.log(r25_ohm) ** 3
    ntc = from_coefficients(a, 1.0 / b_k, c)
    assert temperature_c(ntc, resistance_ohm(ntc, GRID_C)) == pytest.approx(
        GRID_C, abs=ROUND_TRIP_K
    )
    assert np.all(np.diff(resistance_ohm(ntc, GRID_C)) < 0.0)


@pytest.mark.parametrize("c", [0.0, 1e-16, -1e-16, 1e-30, -1e-30, 1e-20, -1e-20, 1e-12, -1e-12])
def test_a_vanishing_cubic_term_is_harmless(c):
    """As c goes to zero the inverse goes to that of the B equation, without loss of digits."""
    straight = from_b_value(3950.0, 10e3)
    bent = straight._replace(c=c)
    log_ohm = np.log(resistance_ohm(straight, GRID_C))
    shift = np.log(resistance_ohm(bent, GRID_C)) - log_ohm
    assert shift == pytest.approx(-c * log_ohm**3 / straight.b, rel=1e-5, abs=1e-12)


def test_agrees_with_a_general_root_finder():
    """The closed form is the real root that numpy finds for the same cubic."""
    a, b, c = TYPICAL
    ntc = from_coefficients(a, b, c)
    for celsius in GRID_C:
        roots = np.roots([c, 0.0, b, a - 1.0 / (celsius + KELVIN_AT_0_C)])
        real = roots[np.abs(roots.imag) < 1e-9].real
        assert np.log(ohm_at(ntc, celsius)) == pytest.approx(float(real[0]), rel=1e-11)


@given(b_k=b_values_k, r25_ohm=r25_ohms)
def test_b_value_is_the_exponential(b_k, r25_ohm):
    """R = R25 exp(B/T - B/T25), and R25 at 25 degC."""
    ntc = from_b_value(b_k, r25_ohm)
    expected = r25_ohm * np.exp(b_k / (GRID_C + KELVIN_AT_0_C) - b_k / 298.15)
    assert resistance_ohm(ntc, GRID_C) == pytest.approx(expected, rel=1e-10)


@given(
    celsius=st.tuples(st.floats(-50, 10), st.floats(15, 60), st.floats(65, 190)),
    b_k=b_values_k,
    r25_ohm=st.floats(1e3, 1e6),
)
def test_three_points_are_met(celsius, b_k, r25_ohm):
    """The curve through three points of a part passes through them, in any order of the points."""
    ohm = resistance_ohm(from_b_value(b_k, r25_ohm), celsius)
    for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0)):
        ntc = from_points([celsius[i] for i in order], [ohm[i] for i in order])
        assert temperature_c(ntc, ohm) == pytest.approx(celsius, abs=1e-6)


@given(b_k=b_values_k, r25_ohm=r25_ohms)
@settings(max_examples=30)
def test_a_table_is_a_curve_that_falls_and_returns(b_k, r25_ohm):
    """A rounded table gives a curve that falls everywhere, beyond its ends too, and inverts."""
    ntc = from_table(*table_of(from_b_value(b_k, r25_ohm), digits=4))
    wide_c = np.linspace(-70.0, 230.0, 1501)
    ohm = resistance_ohm(ntc, wide_c)
    assert np.all(np.diff(ohm) < 0.0)
    assert temperature_c(ntc, ohm) == pytest.approx(wide_c, abs=1e-8)


def test_a_table_with_a_flat_stretch_still_inverts():
    """Nearly equal neighbours, as rounding makes them, do not stop the inverse."""
    celsius = [0.0, 10.0, 20.0, 20.001, 30.0, 40.0]
    ohm = [30e3, 20e3, 13e3, 12.999e3, 8e3, 5.5e3]
    ntc = from_table(celsius, ohm)
    grid = np.linspace(0.0, 40.0, 4001)
    assert temperature_c(ntc, resistance_ohm(ntc, grid)) == pytest.approx(grid, abs=1e-8)


@pytest.mark.parametrize(
    "ntc", [from_coefficients(*TYPICAL), from_table(*table_of(from_coefficients(*TYPICAL)))]
)
def test_interpreter_and_compiled_code_agree(ntc):
    """The functions give the same to the last digits when run by the interpreter."""
    for celsius in (-55.0, 0.0, 25.0, 101.3, 200.0):
        assert ohm_at.py_func(ntc, celsius) == pytest.approx(ohm_at(ntc, celsius), rel=1e-14)
        ohm = ohm_at(ntc, celsius)
        assert celsius_at.py_func(ntc, ohm) == pytest.approx(celsius_at(ntc, ohm), abs=1e-11)


def test_shapes_are_kept():
    """A number gives a number, a field gives a field of the same shape."""
    ntc = from_b_value(3950.0, 10e3)
    assert resistance_ohm(ntc, 25.0).shape == ()
    assert temperature_c(ntc, np.full((2, 3), 10e3)).shape == (2, 3)


REFUSED = [
    (lambda: from_coefficients(1e-3, -2e-4, 1e-7), "falls from -55 to 200"),
    (lambda: from_coefficients(1e-3, 0.0, 1e-7), "falls from -55 to 200"),
    (lambda: from_coefficients(1.129e-3, 2.341e-4, -9e-7), "falls from -55 to 200"),
    (lambda: from_coefficients(-0.1, 2.341e-4, 0.0), "falls from -55 to 200"),
    (lambda: from_coefficients(float("nan"), 2.341e-4, 0.0), "falls from -55 to 200"),
    (lambda: from_b_value(-3950.0, 10e3), "above zero"),
    (lambda: from_b_value(3950.0, 0.0), "above zero"),
    (lambda: from_points([0, 25, 50], [1e3, 2e3, 3e3]), "must fall as the temperature rises"),
    (lambda: from_points([0, 25], [3e3, 1e3]), "3 are due"),
    (lambda: from_points([0, 25, 50, 75], [4e3, 3e3, 2e3, 1e3]), "exactly 3"),
    (lambda: from_points([0, 25, 50], [10.0, 1.0, 0.1]), "do not determine"),
    (lambda: from_table([0, 25, 25], [3e3, 2e3, 1e3]), "must fall as the temperature rises"),
    (lambda: from_table([0, 25, 50], [3e3, 1e3, 1e3]), "must fall as the temperature rises"),
    (lambda: from_table([0, 25, 50], [3e3, 1e3, -1.0]), "above zero"),
    (lambda: from_table([0], [3e3]), "at least 2"),
]


@pytest.mark.parametrize(("build", "sentence"), REFUSED)
def test_what_no_thermistor_does_is_refused(build, sentence):
    """A description that does not fall, or falls short, is refused in one sentence."""
    with pytest.raises(InputError, match=sentence) as refusal:
        build()
    assert str(refusal.value).startswith("thermistor: ")
    assert "\n" not in str(refusal.value)
