"""Numbers of segments and errors of broken lines, against analysis and computed rows.

*Printed*: the figure stands in the source. *Computed*: evaluated independently from the named
equation, so that it compares two implementations and is no published figure.
"""

import numpy as np
import pytest

from derate.sensing import code_steps, straight, temperature_steps
from derate.sensing.corridor import about
from derate.sensing.placed import fewest_segments

COUNTS = 30_000
"""Counts per unit: fine enough that rounding to whole counts adds little."""
ROUNDING = 1.5 / COUNTS
"""Ordinates and readings are whole: half a count each, and half for the last bisection."""
COMPUTED_K = 0.001
"""The rows are computed to three decimals."""
CENTI = 100
CODE_FRACTIONS = 16
CENTI_ROUNDING_K = 0.01
"""Knots at whole hundredths and readings rounded to them: half of one each."""


def farthest_apart(curve, segments):
    """Largest distance of a curve from the chords over equal parts of its points."""
    points = np.arange(len(curve))
    knots = points[:: (len(curve) - 1) // segments]
    return float(np.max(np.abs(np.interp(points, knots, curve[knots]) - curve)))


def test_the_bound_of_linear_interpolation():
    """h^2/8 max|f''| is reached by a parabola on its chords; half of it with free ordinates.

    Factor 8: printed, exercise text at qaboard.cramster.com (topic 5-348126, part a). For x^2 on
    0..1 in n = 10 parts: 1/(4 n^2) = 0.0025 and 1/(8 n^2) = 0.00125, by analysis (computed).
    """
    parts, shift = 10, 8
    curve = COUNTS * np.linspace(0.0, 1.0, (parts << shift) + 1) ** 2
    assert farthest_apart(curve, parts) / COUNTS == pytest.approx(0.0025, abs=ROUNDING)
    values = code_steps.least_error(curve, shift)
    line = np.interp(np.arange(len(curve)), np.arange(parts + 1) << shift, values)
    free = np.max(np.abs(line - curve)) / COUNTS
    assert free == pytest.approx(0.00125, abs=ROUNDING)


@pytest.mark.parametrize(
    ("tolerance", "least", "interpolating"), [(1e-2, 4, 5), (1e-3, 11, 15), (1e-4, 33, 46)]
)
def test_segments_for_the_exponential(tolerance, least, interpolating):
    """exp(x) on 0..1 takes the least number of segments with free ordinates, and no more.

    Computed: for a convex curve greedy longest segments are the fewest, and with free ordinates
    they are as many as on the curve at twice the error. The fewest on the curve are more.
    """
    counts = 30.0 / tolerance
    curve = counts * np.exp(np.linspace(0.0, 1.0, 4001))
    line = fewest_segments(about(curve, counts * tolerance))
    assert len(line.at) - 1 == line.lower_bound == least < interpolating


FOUR_TERMS = (-14.195756, 4407.4785, -5165.873, -14017368.0)
"""ln(Rt/R25) = A + B/T + C/T^2 + D/T^3: Amphenol Thermometrics, Sensor Temperature Resistance
Curves Reference Guide, Rev. C, November 2014, Material Type 1 (printed)."""
FIRST, LAST = 135, 3135
"""Codes of 125 and 0 degC."""


def material_1_c(codes):
    """Temperature [degC] of 12-bit codes, 10 kohm part at 10 kohm to the supply."""
    celsius = np.linspace(-20.0, 140.0, 160001)
    x = 1.0 / (celsius + 273.15)
    a, b, c, d = FOUR_TERMS
    ratio = np.exp(a + b * x + c * x**2 + d * x**3)
    full = 4096.0 * ratio / (ratio + 1.0)
    return np.interp(codes, full[::-1], celsius[::-1])


CURVE_C = material_1_c(np.arange(FIRST, LAST + 1))


def separate_lines(corridor):
    """Longest lines that need not even meet: each begins at the code after the last one's end."""
    count, start, last = 0, 0, len(corridor.low) - 1
    work = np.zeros((2, last + 1, 2), np.int64)
    while start <= last:
        end = start
        if start < last:
            end = straight._farthest(corridor.low, corridor.high, start, work[0], work[1])
        count, start = count + 1, end + 1
    return count


@pytest.mark.parametrize(
    ("tolerance_k", "bound", "interpolating", "reached"),
    [(1.0, 5, 6, 5), (0.5, 6, 9, 6), (0.25, 10, 13, 10), (0.1, 14, 21, 15), (0.05, 21, 29, 22)],
)
def test_segments_for_a_thermistor(tolerance_k, bound, interpolating, reached):
    """Codes 135..3135: the computed rows' bound is found again, and reached or proved too low.

    Computed rows for the printed equation: lower bound with free ordinates (lines that need not
    meet), and the fewest segments with knots on the curve. Lines that meet at whole codes, in
    whole hundredths of a kelvin with rounding within the error, need one segment more at 0.1 and
    0.05 K; the search shows that fewer do not exist.
    """
    fine = about(3e3 * CURVE_C, 3e3 * tolerance_k)
    assert separate_lines(fine) == bound
    line = fewest_segments(about(CENTI * CURVE_C, CENTI * tolerance_k))
    assert len(line.at) - 1 == line.lower_bound == reached < interpolating
    assert reached >= bound


@pytest.mark.parametrize(
    ("segments", "in_code_k", "in_temperature_k"),
    [(8, 8.769, 0.929), (16, 3.971, 0.234), (32, 1.512, 0.058), (64, 0.494, 0.015)],
)
def test_errors_of_uniform_steps(segments, in_code_k, in_temperature_k):
    """Uniform steps of temperature are ten to thirty times better than of code; free knots more.

    Computed rows for the printed equation: knots exact and on the curve, codes 135..3135.
    """
    points = np.arange(FIRST, LAST + 1)
    edges = np.linspace(FIRST, LAST, segments + 1)
    on_curve = np.interp(points, edges, material_1_c(edges))
    assert np.max(np.abs(on_curve - CURVE_C)) == pytest.approx(in_code_k, abs=COMPUTED_K)
    fine = np.arange(FIRST * CODE_FRACTIONS, LAST * CODE_FRACTIONS + 1) / CODE_FRACTIONS
    curve = CENTI * material_1_c(fine)
    errors_k = []
    for shifted in (False, True):
        positions, values = temperature_steps.knots(
            curve, FIRST * CODE_FRACTIONS, segments, shifted=shifted
        )
        line = np.interp(points * CODE_FRACTIONS, positions, values) / CENTI
        errors_k.append(float(np.max(np.abs(line - CURVE_C))))
    assert errors_k[0] == pytest.approx(in_temperature_k, abs=CENTI_ROUNDING_K)
    if segments <= 16:
        assert errors_k[1] < 0.6 * errors_k[0]
