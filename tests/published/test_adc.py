"""ADC, divider and self-heating against makers' texts and independently computed rows.

*Printed*: the figure stands in the source. *Computed*: evaluated independently from the named
data, so that it compares two implementations and is no published figure.
"""

import math

import numpy as np
import pytest

from derate.sensing.adc import Transfer, convert
from derate.sensing.divider import Bridge, ohm_at_share, share, thermistor_v, thermistor_w
from derate.sensing.ntc import KELVIN_AT_0_C

MICRO = 1e-6
BITS_12 = Transfer(4096, 0.0, 0.0, 0.0, 0.0, 1)
PULL_UP_10K = Bridge(True, True, 10e3, 3.3, 3.3)


def transition_v(transfer, code, reference_v):
    """Voltage [V] at which the ADC first gives ``code``, by bisection to 1 nV."""
    low_v, high_v = -reference_v, 2.0 * reference_v
    while high_v - low_v > 1e-9:
        middle_v = 0.5 * (low_v + high_v)
        if convert(transfer, middle_v / reference_v, 0, 0, 0, 0) >= code:
            high_v = middle_v
        else:
            low_v = middle_v
    return high_v


def test_size_of_one_lsb():
    """12 bits at 3.3 V: transitions lie 805.6 uV apart (ST AN2834, section 2.1, printed)."""
    step_v = transition_v(BITS_12, 2, 3.3) - transition_v(BITS_12, 1, 3.3)
    assert step_v == pytest.approx(805.6 * MICRO, abs=0.1 * MICRO)


def test_gain_error_moves_the_last_transition():
    """A last transition 1162 uV early is a gain error of 1.44 LSB (ST AN2834, 2.1, printed)."""
    bent = BITS_12._replace(gain_error=1.442 / 4095)
    early_v = transition_v(bent, 4095, 3.3) - transition_v(BITS_12, 4095, 3.3)
    assert early_v == pytest.approx(3.298435 - 3.299597, abs=1.0 * MICRO)


def test_offset_error_moves_the_first_transition():
    """First transition at 550 uV, 402.8 uV ideal: 0.183 LSB; negative control for a misprint.

    ST AN2834 Rev 3, section 2.1, prints the two voltages and the slip 141.2 uV = 0.17 LSB.
    """
    half_lsb = 0.5
    assert transition_v(BITS_12._replace(offset_lsb=half_lsb), 1, 3.3) == pytest.approx(
        402.8 * MICRO, abs=0.05 * MICRO
    )
    right = transition_v(BITS_12._replace(offset_lsb=half_lsb - 0.183), 1, 3.3)
    printed = transition_v(BITS_12._replace(offset_lsb=half_lsb - 0.17), 1, 3.3)
    assert right == pytest.approx(550.0 * MICRO, abs=0.5 * MICRO)
    assert abs(printed - 550.0 * MICRO) > 5.0 * MICRO


def test_half_lsb_convention_is_an_offset():
    """First transition at 0.5 LSB, last 1.5 LSB below full scale: our ADC with half an LSB offset.

    Atmel/Microchip web help, ADC parameter definitions (printed).
    """
    transfer = Transfer(1024, 0.5, 0.0, 0.0, 0.0, 1)
    assert transition_v(transfer, 1, 1024.0) == pytest.approx(0.5, abs=1e-6)
    assert 1024.0 - transition_v(transfer, 1023, 1024.0) == pytest.approx(1.5, abs=1e-6)


@pytest.mark.parametrize(("samples", "extra_bits"), [(4, 1), (16, 2), (64, 3)])
def test_samples_for_an_extra_bit(samples, extra_bits):
    """4^n samples gain n bits: the noise of the mean falls by 2^n (statistics of 2000 codes).

    Microchip onlinedocs GUID-57D3515A-D13A-4FB6-B2E6-46A8E304CC60, Oversampling, Table 1 (printed).
    """
    noise_lsb, count = 32.0, 2000
    transfer = Transfer(4096, 0.0, 0.0, 0.0, noise_lsb, samples)
    codes = [convert(transfer, 0.5, 1, 2, tick, 0) for tick in range(count)]
    four_sigma = 4.0 / math.sqrt(2.0 * count)
    assert np.std(codes) == pytest.approx(noise_lsb / 2**extra_bits, rel=four_sigma)


def test_averaging_without_noise_gains_nothing():
    """Codes without noise are all the same, and so is their mean (Microchip AN2572, printed)."""
    plain = [convert(BITS_12, x, 0, 0, 0, 0) for x in np.linspace(0, 1, 999)]
    averaged = BITS_12._replace(oversampling=16)
    assert [convert(averaged, x, 0, 0, 0, 0) for x in np.linspace(0, 1, 999)] == plain


# -- divider ---------------------------------------------------------------------------------------

FOUR_TERMS = (-14.195756, 4407.4785, -5165.873, -14017368.0)
"""ln(Rt/R25) = A + B/T + C/T^2 + D/T^3: Amphenol Thermometrics, Sensor Temperature Resistance
Curves Reference Guide, Rev. C, November 2014, Material Type 1 (printed)."""


def material_1_ohm(celsius):
    """The printed equation, for R25 = 10 kohm [ohm]."""
    x = 1.0 / (celsius + KELVIN_AT_0_C)
    a, b, c, d = FOUR_TERMS
    return 1e4 * math.exp(a + b * x + c * x**2 + d * x**3)


CODES = [
    # degC, ideal 12-bit input [LSB], kelvin per LSB; 10 kohm pull-up; computed from the equation
    (-40, 3976.78, 0.1308),
    (0, 3135.40, 0.0267),
    (25, 2048.00, 0.0223),
    (60, 815.67, 0.0425),
    (85, 395.91, 0.0885),
    (105, 227.01, 0.1632),
    (125, 134.80, 0.2954),
]


@pytest.mark.parametrize(("celsius", "lsb", "k_per_lsb"), CODES)
def test_divider_codes(celsius, lsb, k_per_lsb):
    """Input and kelvin per LSB of a 10 kohm part at a 10 kohm pull-up (computed rows)."""

    def input_lsb(t):
        return 4096.0 * share(PULL_UP_10K, material_1_ohm(t))

    assert input_lsb(celsius) == pytest.approx(lsb, abs=0.01)
    slope = (input_lsb(celsius + 0.01) - input_lsb(celsius - 0.01)) / 0.02
    assert -1.0 / slope == pytest.approx(k_per_lsb, abs=1e-4)


def test_half_bridge_to_ground():
    """24.9 kohm to ground below 10 kohm: 0.713467 of the supply.

    Formula: Campbell Scientific, 109-L manual, section 8.2; figure computed.
    """
    assert share(Bridge(False, True, 24.9e3, 2.5, 2.5), 10e3) == pytest.approx(0.713467, abs=1e-6)


RAILS = [
    (0.01, 177.55),
    (0.02, 145.64),
    (0.05, 108.84),
    (0.10, 83.81),
    (0.90, -18.74),
    (0.95, -31.23),
    (0.98, -45.71),
    (0.99, -55.62),
]
RAIL_REL = 5e-4
"""A hundredth of a degree is worth up to 0.05 % of the resistance."""


@pytest.mark.parametrize(("part", "celsius"), RAILS)
def test_fixed_percentages_fire_inside_the_range(part, celsius):
    """Temperature at which fixed shares of full scale are reached: 5 % is 109 degC (computed)."""
    assert ohm_at_share(PULL_UP_10K, part) == pytest.approx(material_1_ohm(celsius), rel=RAIL_REL)


# -- self-heating ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dissipation_w_per_k", "rise_k"),
    [(1e-3, 0.272), (2e-3, 0.136), (3e-3, 0.091), (3.5e-3, 0.078)],
)
def test_self_heating_at_25_c(dissipation_w_per_k, rise_k):
    """10 kohm at a 10 kohm pull-up on 3.3 V warms itself by P / dissipation factor (computed)."""
    assert thermistor_w(PULL_UP_10K, 10e3) / dissipation_w_per_k == pytest.approx(rise_k, abs=1e-3)


@pytest.mark.parametrize(
    ("celsius", "milliwatt"), [(60, 0.174), (85, 0.095), (105, 0.057), (125, 0.035)]
)
def test_self_heating_falls_when_hot(celsius, milliwatt):
    """Heat in the same part of Material Type 1, in milliwatt (computed from V^2 R / (R + Rp)^2)."""
    heat_w = thermistor_w(PULL_UP_10K, material_1_ohm(celsius))
    assert heat_w * 1e3 == pytest.approx(milliwatt, abs=5e-4)
    ohm = material_1_ohm(celsius)
    assert heat_w == pytest.approx(thermistor_v(PULL_UP_10K, ohm) ** 2 / ohm, rel=1e-12)


def test_definition_of_the_dissipation_factor():
    """1 mW for each kelvin at 1 mW/K: P = C (T - T0) (Murata R44E, basic characteristics)."""
    matched = Bridge(True, True, 1e3, 2.0, 2.0)
    assert thermistor_w(matched, 1e3) / 1e-3 == pytest.approx(1.0, rel=1e-12)
