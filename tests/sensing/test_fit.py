"""Fits: through or near points, the choice of the model, the residuals, what is warned of."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp.thermistor import Thermistor
from derate.sensing.ntc import KELVIN_AT_0_C, celsius_at, ohm_at, resistance_ohm, temperature_c
from derate.sensing.thermistor import (
    b_value_k,
    fit,
    fit_of,
    fit_residuals,
    from_b_value,
    from_coefficients,
    from_lamp,
    from_polynomial,
    warnings,
)

GRID_C = np.linspace(-55.0, 200.0, 256)
TYPICAL = (1.129e-3, 2.341e-4, 8.775e-8)
FOUR = (8.9e-4, 2.5e-4, 1.9e-6, 1.6e-7)
"""Coefficients of an invented 10 kohm part whose curve needs four terms."""
EXACT_K = 1e-7
"""A fit to points of its own model; rounding of nearly parallel columns of powers of ln R."""


def points_of(ntc, celsius):
    """Points of a curve at temperatures [degC]."""
    return np.asarray(celsius, float), resistance_ohm(ntc, celsius)


# -- polynomial of four terms ----------------------------------------------------------------------


def test_a_polynomial_is_its_polynomial():
    """1/T = a + b L + c L^2 + d L^3 at every temperature, found by a general root finder too."""
    ntc = from_polynomial(*FOUR)
    ohm = resistance_ohm(ntc, GRID_C)
    inverse_k = np.polynomial.polynomial.polyval(np.log(ohm), FOUR)
    assert 1.0 / inverse_k - KELVIN_AT_0_C == pytest.approx(GRID_C, abs=1e-9)
    assert temperature_c(ntc, ohm) == pytest.approx(GRID_C, abs=1e-9)
    assert np.all(np.diff(ohm) < 0.0)


@given(
    b_k=st.floats(2500.0, 5000.0),
    r25_ohm=st.floats(1e2, 1e6),
    square=st.floats(-0.15, 0.15),
    cube=st.floats(-0.02, 0.05),
)
@settings(max_examples=60)
def test_polynomials_go_both_ways(b_k, r25_ohm, square, cube):
    """Temperature to resistance and back, for either sign of the terms, in ratio form."""
    given_k = (1 / 298.15, 1 / b_k, square / b_k / 9.0, cube / b_k / 27.0)
    try:
        ntc = from_polynomial(*given_k, reference_ohm=r25_ohm)
    except InputError:
        return
    assert ohm_at(ntc, 25.0) == pytest.approx(r25_ohm, rel=1e-9)
    ohm = resistance_ohm(ntc, GRID_C)
    assert temperature_c(ntc, ohm) == pytest.approx(GRID_C, abs=1e-9)
    inverse_k = np.polynomial.polynomial.polyval(np.log(ohm / r25_ohm), given_k)
    assert inverse_k == pytest.approx(1.0 / (GRID_C + KELVIN_AT_0_C), rel=1e-12)


def test_a_polynomial_without_a_square_is_steinhart_hart():
    """With c = 0 the table's curve and the closed form are the same curve."""
    a, b, c = TYPICAL
    for celsius in GRID_C:
        closed = ohm_at(from_coefficients(a, b, c), celsius)
        assert ohm_at(from_polynomial(a, b, 0.0, c), celsius) == pytest.approx(closed, rel=1e-10)
    straight = from_b_value(3950.0, 10e3)
    line = from_polynomial(straight.a, straight.b, 0.0, 0.0)
    assert resistance_ohm(line, GRID_C) == pytest.approx(resistance_ohm(straight, GRID_C))


@pytest.mark.parametrize(
    "wrong",
    [
        (3.354e-3, -2.56e-4, 2.5e-6, 1.05e-7),
        (float("nan"), 2.5e-4, 1.9e-6, 1.6e-7),
        (8.9e-4, 2.5e-4, float("inf"), 1.6e-7),
        (0.0, 0.0, 0.0, 0.0),
        (8.9e-4, 2.5e-4, 1.9e-6, -9e-7),
    ],
)
def test_polynomials_no_thermistor_has_are_refused(wrong):
    """Coefficients that rise, or bend over, or are no numbers are refused in a sentence."""
    with pytest.raises(InputError, match=r"polynomial coefficients .* falls from -55 to 200"):
        from_polynomial(*wrong)


# -- fits ------------------------------------------------------------------------------------------


def test_two_points_are_a_b_value():
    """Two points give the B value between them and no residual."""
    made = fit([25.0, 85.0], [10e3, 1.07e3])
    assert made.model == "b-value"
    assert 1.0 / made.coefficients[1] == pytest.approx(b_value_k(25.0, 10e3, 85.0, 1.07e3))
    assert made.residual_k == pytest.approx([0.0, 0.0], abs=EXACT_K)


def test_three_points_are_met_exactly():
    """Three points give Steinhart-Hart through them."""
    made = fit(*points_of(from_coefficients(*TYPICAL), [0.0, 40.0, 100.0]))
    assert made.model == "steinhart-hart"
    assert made.coefficients == pytest.approx(TYPICAL, rel=1e-9)
    assert made.residual_k == pytest.approx([0.0] * 3, abs=EXACT_K)


@pytest.mark.parametrize(
    ("model", "truth", "expected"),
    [
        ("b-value", from_b_value(3950.0, 10e3), 2),
        ("steinhart-hart", from_coefficients(*TYPICAL), 3),
        ("polynomial", from_polynomial(*FOUR), 4),
    ],
)
def test_points_of_a_model_give_the_model_back(model, truth, expected):
    """Least squares over many points of a curve is that curve, to the rounding."""
    t, r = points_of(truth, np.arange(-40.0, 126.0, 15.0))
    made = fit(t, r, model=model)
    assert len(made.coefficients) == expected
    assert np.max(np.abs(made.residual_k)) < EXACT_K
    assert temperature_c(made.ntc, resistance_ohm(truth, GRID_C)) == pytest.approx(GRID_C, abs=1e-4)


def test_the_fit_is_the_least_in_kelvin():
    """No coefficient, moved either way, makes the sum of squared kelvin smaller."""
    t, r = points_of(from_polynomial(*FOUR), np.arange(-40.0, 126.0, 15.0))
    made = fit(t, r, model="steinhart-hart")

    def squares(coefficients):
        return float(np.sum(fit_residuals(from_coefficients(*coefficients), t, r) ** 2))

    least = squares(made.coefficients)
    assert least > 1e-4
    for i in range(3):
        for sign in (-1.0, 1.0):
            moved = list(made.coefficients)
            moved[i] *= 1.0 + sign * 1e-4
            assert squares(moved) > least


def test_four_terms_are_taken_where_they_foretell_better():
    """A curve of four terms is fitted by four, one of three by three when its points are rough."""
    celsius = np.arange(-40.0, 126.0, 15.0)
    made = fit(*points_of(from_polynomial(*FOUR), celsius))
    assert made.model == "polynomial"
    assert "foretold" in made.why
    t, r = points_of(from_coefficients(*TYPICAL), celsius)
    rough = r * (1.0 + 0.002 * np.array([1, -1, 0, -1, 1, 1, 0, 1, -1, 1, -1, 0]))
    assert fit(t, rough).model == "steinhart-hart"


def test_four_terms_need_points_to_spare_and_a_span():
    """Four points, or points over 60 K, are fitted by three terms, whatever the curve."""
    truth = from_polynomial(*FOUR)
    assert fit(*points_of(truth, [-40.0, 0.0, 50.0, 125.0])).model == "steinhart-hart"
    narrow = fit(*points_of(truth, np.arange(0.0, 61.0, 10.0)))
    assert narrow.model == "steinhart-hart"
    assert "narrow" in narrow.why
    assert fit(*points_of(truth, [-40.0, 0.0, 50.0, 125.0]), model="polynomial").model == (
        "polynomial"
    )


def test_points_in_any_order_give_the_same_fit():
    """The order in which points are given does not matter; residuals are in rising order."""
    t, r = points_of(from_polynomial(*FOUR), [-20.0, 0.0, 25.0, 50.0, 85.0, 110.0])
    order = [3, 0, 5, 1, 4, 2]
    one, other = fit(t, r, model="steinhart-hart"), fit(t[order], r[order], model="steinhart-hart")
    assert other.celsius == pytest.approx(t)
    assert other.residual_k == pytest.approx(one.residual_k)
    assert np.ptp(one.residual_k) > 0.001


def test_residuals_are_positive_where_the_curve_reads_hot():
    """The residual is the temperature read at a point's resistance less the point's."""
    ntc = from_b_value(3950.0, 10e3)
    warm = [celsius_at(ntc, 10e3) - 2.0]
    assert fit_residuals(ntc, warm, [10e3]) == pytest.approx([2.0])


def test_a_table_may_be_asked_for():
    """As a table the curve meets every point."""
    t, r = points_of(from_polynomial(*FOUR), [-40.0, 0.0, 25.0, 85.0, 125.0])
    made = fit(t, r, model="table")
    assert made.coefficients == ()
    assert made.residual_k == pytest.approx(np.zeros(5), abs=1e-9)


@pytest.mark.parametrize(
    ("model", "least"), [("b-value", 2), ("steinhart-hart", 3), ("polynomial", 4), ("table", 2)]
)
def test_too_few_points_are_refused(model, least):
    """Each model says how many points it needs."""
    t, r = points_of(from_b_value(3950.0, 10e3), np.arange(least - 1) * 30.0)
    with pytest.raises(InputError, match=f"at least {least} are due"):
        fit(t, r, model=model)


# -- from a lamp -----------------------------------------------------------------------------------

ROWS = [(-40.0, 333600.0), (0.0, 32640.0), (25.0, 10000.0), (60.0, 2487.0), (105.0, 586.8)]
"""An invented choice of rows, rounded to four digits, of a part with a real bend."""


def of(**keys):
    """A thermistor as a lamp file would describe it."""
    return Thermistor(**{"range_c": (-40.0, 105.0), **keys})


def test_a_lamp_may_force_the_model():
    """Points and tables take the model asked for, a table by itself stays one."""
    assert fit_of(of(table=ROWS)).model == "table"
    for key in ("points", "table"):
        for model in ("b-value", "steinhart-hart", "polynomial", "table"):
            assert fit_of(of(**{key: ROWS, "model": model})).model == model
    assert fit_of(of(b_value_k=3950.0, resistance_25_ohm=1e4)) is None


def test_a_ratio_polynomial_of_a_lamp():
    """With resistance_25 the coefficients are of ln(R / R25)."""
    b_k = 3950.0
    made = from_lamp(of(polynomial=(1 / 298.15, 1 / b_k, 0.0, 0.0), resistance_25_ohm=4.7e3))
    expected = resistance_ohm(from_b_value(b_k, 4.7e3), GRID_C)
    assert resistance_ohm(made, GRID_C) == pytest.approx(expected, rel=1e-9)


def test_a_b_value_over_a_wide_range_is_said_to_misfit():
    """One B value over 145 K misses points by kelvins; three and four terms do not."""
    found = warnings(of(points=ROWS, model="b-value"))
    assert any("b-value model misses the point at -40 degC" in text for text in found)
    for model in ("steinhart-hart", "polynomial", "table", None):
        assert warnings(of(points=ROWS, model=model)) == []


def test_rounding_of_points_is_no_misfit():
    """Points printed to two digits are missed by up to their rounding without a warning."""
    t, r = points_of(from_coefficients(*TYPICAL), np.arange(0.0, 101.0, 20.0))
    rough = [float(f"{x:.2g}") for x in r]
    made = fit(t, rough, model="steinhart-hart")
    assert np.max(np.abs(made.residual_k)) > 0.1
    assert warnings(of(points=list(zip(t, rough, strict=True)))) == []


def test_two_points_are_doubted_far_beyond_them():
    """Two points carry a range up to 25 K beyond them, and not further."""
    rows = [ROWS[1], ROWS[3]]
    assert warnings(of(points=rows, range_c=(-20.0, 85.0))) == []
    assert any("40 K beyond" in text for text in warnings(of(points=rows, range_c=(-40.0, 60.0))))
    assert any("45 K beyond" in text for text in warnings(of(points=rows, range_c=(0.0, 105.0))))
