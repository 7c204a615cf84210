"""The ADC's transfer: convention, each error alone, noise and oversampling."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.adc import Transfer, bent, convert

IDEAL = Transfer(4096, 0.0, 0.0, 0.0, 0.0, 1)
RATIOS = np.linspace(0.0, 1.0, 20001)


def codes(transfer, ratios=RATIOS):
    """Codes of many ratios, without noise."""
    return np.array([convert(transfer, float(r), 0, 0, 0, 0) for r in ratios])


@pytest.mark.parametrize("bits", [6, 8, 10, 12, 14, 16])
def test_ideal_code_is_the_floor(bits):
    """floor(V / Vref 2^bits), held at 0 and at full scale - 1, for every code's both edges."""
    full = 1 << bits
    transfer = IDEAL._replace(full_scale=full)
    for code in range(0, full, max(1, full // 257)):
        assert convert(transfer, code / full, 0, 0, 0, 0) == code
        assert convert(transfer, (code + 1) / full * (1 - 1e-9), 0, 0, 0, 0) == code
    assert convert(transfer, 1.0, 0, 0, 0, 0) == full - 1
    assert convert(transfer, 7.0, 0, 0, 0, 0) == full - 1
    assert convert(transfer, -3.0, 0, 0, 0, 0) == 0


@given(bits=st.integers(6, 16), ratio=st.floats(0.1, 0.9), offset=st.integers(-5, 5))
def test_offset_shifts_by_whole_codes(bits, ratio, offset):
    """An offset of n LSB adds n to the code away from the rails."""
    transfer = Transfer(1 << bits, float(offset), 0.0, 0.0, 0.0, 1)
    plain = transfer._replace(offset_lsb=0.0)
    assert convert(transfer, ratio, 0, 0, 0, 0) - convert(plain, ratio, 0, 0, 0, 0) == offset


def test_gain_error_is_a_share_of_full_scale():
    """Nothing at zero, the whole share at full scale, half of it in the middle."""
    transfer = IDEAL._replace(gain_error=0.01)
    for ratio in (0.0, 0.5, 1.0):
        assert bent(transfer, ratio) - 4096 * ratio == pytest.approx(40.96 * ratio, abs=1e-9)


def test_inl_is_a_bow_with_its_peak_in_the_middle():
    """Zero at both ends, the stated figure at mid-scale, nowhere more, and symmetric."""
    transfer = IDEAL._replace(inl_lsb=3.0)
    bow = np.array([bent(transfer, r) for r in RATIOS]) - 4096 * RATIOS
    assert bow[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert bow[10000] == pytest.approx(3.0, abs=1e-9)
    assert np.argmax(bow) == 10000
    assert bow == pytest.approx(bow[::-1], abs=1e-9)


@given(
    bits=st.integers(6, 16),
    offset=st.floats(-20, 20),
    gain=st.floats(-0.05, 0.05),
    inl=st.floats(-5, 5),
)
def test_codes_never_fall_as_the_voltage_rises(bits, offset, gain, inl):
    """With any offset, gain and INL of a usable ADC the code is monotone and in range."""
    transfer = Transfer(1 << bits, offset, gain, inl, 0.0, 1)
    found = codes(transfer, np.linspace(-0.1, 1.1, 401))
    assert np.all(np.diff(found) >= 0)
    assert found.min() >= 0
    assert found.max() < 1 << bits


def test_an_s_shaped_inl_peaks_on_either_side():
    """Zero at both ends and in the middle, the stated figure once up and once down."""
    transfer = IDEAL._replace(inl_lsb=3.0, s_shaped=True)
    shape = np.array([bent(transfer, r) for r in RATIOS]) - 4096 * RATIOS
    assert shape[[0, 10000, -1]] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert [shape.max(), shape.min()] == pytest.approx([3.0, -3.0], abs=1e-6)
    assert RATIOS[np.argmax(shape)] == pytest.approx((1 - 1 / math.sqrt(3)) / 2, abs=1e-3)
    assert shape == pytest.approx(-shape[::-1], abs=1e-9)


def width_lsb(transfer, code):
    """Width [LSB] of a code, by counting a fine ramp through it and its neighbours."""
    ramp = np.linspace(code - 2.0, code + 3.0, 5001)[:-1]
    full = transfer.full_scale
    return np.count_nonzero([convert(transfer, x / full, 0, 0, 0, 0) == code for x in ramp]) / 1000


@pytest.mark.parametrize("dnl_lsb", [0.0, 0.4, -0.4, 1.0, -1.0])
def test_dnl_is_the_width_of_a_code_less_one(dnl_lsb):
    """Even codes are as much too wide as odd ones too narrow; at 1 LSB odd codes are missing."""
    transfer = IDEAL._replace(dnl_lsb=dnl_lsb)
    for code in (1000, 1001, 2046, 2047):
        expected = 1.0 + (dnl_lsb if code % 2 == 0 else -dnl_lsb)
        assert width_lsb(transfer, code) == pytest.approx(expected, abs=0.003)


def test_dnl_leaves_order_and_range_alone():
    """The code never falls as the voltage rises, and stays within the rails."""
    for dnl_lsb in (0.7, -0.7):
        found = codes(IDEAL._replace(dnl_lsb=dnl_lsb), np.linspace(-0.1, 1.1, 5001))
        assert np.all(np.diff(found) >= 0)
        assert (found.min(), found.max()) == (0, 4095)
        assert np.max(np.abs(found - codes(IDEAL, np.linspace(-0.1, 1.1, 5001)))) == 1


def test_noise_has_the_stated_size_and_no_bias():
    """Codes of a steady voltage scatter by the stated rms; 3000 conversions, 4 sigma."""
    count, noise_lsb = 3000, 5.0
    transfer = IDEAL._replace(noise_lsb=noise_lsb)
    found = [convert(transfer, 0.5 + 0.5 / 4096, 3, 1, tick, 0) for tick in range(count)]
    assert np.mean(found) == pytest.approx(2048.0, abs=4.0 * noise_lsb / math.sqrt(count))
    assert np.std(found) == pytest.approx(
        math.hypot(noise_lsb, math.sqrt(1 / 12)), rel=4.0 / math.sqrt(2 * count)
    )


def test_oversampling_is_the_rounded_mean_of_its_conversions():
    """The code is the sum of the single conversions, each with its own noise, halves up."""
    single = IDEAL._replace(noise_lsb=2.0)
    for n in (2, 5, 16):
        for tick in range(50):
            parts = [convert(single, 0.3, 9, 4, tick, 100 + i) for i in range(n)]
            found = convert(single._replace(oversampling=n), 0.3, 9, 4, tick, 100)
            assert found == math.floor(sum(parts) / n + 0.5)


def test_noise_depends_on_the_four_numbers_only():
    """The same seed, unit, tick and use give the same code; changing any gives others."""
    transfer = IDEAL._replace(noise_lsb=50.0)
    first = [convert(transfer, 0.5, 1, 2, tick, 3) for tick in range(40)]
    assert first == [convert(transfer, 0.5, 1, 2, tick, 3) for tick in range(40)]
    assert first != [convert(transfer, 0.5, 2, 2, tick, 3) for tick in range(40)]
    assert first != [convert(transfer, 0.5, 1, 3, tick, 3) for tick in range(40)]
    assert first != [convert(transfer, 0.5, 1, 2, tick, 4) for tick in range(40)]


def test_interpreter_and_compiled_code_agree():
    """The conversion gives the same code when run by the interpreter."""
    transfer = Transfer(1024, 0.7, -0.003, 1.1, 1.5, 8, 0.4, True)
    for tick in range(30):
        here = (transfer, 0.01 + tick / 31, 5, 6, tick, 7)
        assert convert.py_func(*here) == convert(*here)
