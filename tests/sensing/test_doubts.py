"""Doubts about tables: computed, filled by straight lines, a row misprinted; none about good."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.sensing.doubts import (
    doubts,
    last_digit_ohm,
    looks_computed,
    looks_filled,
    odd_rows,
    rounding_k,
)
from derate.sensing.ntc import resistance_ohm
from derate.sensing.thermistor import from_b_value, from_coefficients
from tests.sensing.invented import chain

REAL = from_coefficients(1.129e-3, 2.341e-4, 8.775e-8)
"""Invented, with the bend of a real part: its B value grows by 2 % from 50 to 100 degC."""


def rows(step_c=5.0, digits=4, low_c=-40.0, high_c=125.0):
    """Rows of a good table, printed with so many digits."""
    celsius = np.arange(low_c, high_c + 0.1, step_c)
    return celsius, np.array([float(f"{r:.{digits}g}") for r in resistance_ohm(REAL, celsius)])


def filled(step_c, coarse_c):
    """A table filled by straight lines between rows ``coarse_c`` apart, in whole ohms."""
    celsius, ohm = rows(coarse_c, digits=5)
    fine_c = np.arange(celsius[0], celsius[-1] + 0.1, step_c)
    return fine_c, np.round(np.interp(fine_c, celsius, ohm))


@given(
    step_c=st.sampled_from([1.0, 2.5, 5.0, 10.0, 15.0, 20.0]),
    digits=st.integers(3, 7),
    low_c=st.sampled_from([-55.0, -40.0, 0.0]),
    high_c=st.sampled_from([85.0, 125.0, 150.0]),
)
@settings(max_examples=60)
def test_good_tables_raise_no_doubt(step_c, digits, low_c, high_c):
    """A table of a real shape is left alone for any step, span and number of digits.

    Rows closer than their rounding would repeat; those no table prints.
    """
    celsius, ohm = rows(step_c, digits, low_c, high_c)
    if np.all(np.diff(ohm) < 0.0):
        assert doubts(celsius, ohm) == []


def test_a_table_of_one_b_value_looks_computed():
    """Constant B is told as computed, and only that; a real bend is not."""
    celsius = np.arange(-40.0, 126.0, 5.0)
    ohm = np.round(resistance_ohm(from_b_value(3431.0, 10e3), celsius))
    assert looks_computed(celsius, ohm)
    assert [text for text in doubts(celsius, ohm) if "same B value" in text] == doubts(celsius, ohm)
    assert not looks_computed(*rows())


@pytest.mark.parametrize(("step_c", "coarse_c"), [(1.0, 5.0), (2.5, 5.0), (1.0, 10.0), (5.0, 10.0)])
def test_a_table_filled_by_straight_lines_is_seen(step_c, coarse_c):
    """Rows on straight lines in R between fewer rows are told, however fine."""
    celsius, ohm = filled(step_c, coarse_c)
    assert looks_filled(celsius, ohm)
    assert len(doubts(celsius, ohm)) == 1
    assert "straight lines" in doubts(celsius, ohm)[0]
    assert not looks_filled(*rows(step_c, digits=6))


@pytest.mark.parametrize("step_c", [5.0, 10.0])
@pytest.mark.parametrize("off_k", [0.5, -0.5, 3.0])
def test_a_misprinted_row_is_found(step_c, off_k):
    """A row half a kelvin off or more is found, named, and what is due there told."""
    celsius, ohm = rows(step_c, digits=5)
    for at in range(2, len(celsius) - 2):
        bad = ohm.copy()
        bad[at] = resistance_ohm(REAL, celsius[at] + off_k)
        found = odd_rows(celsius, np.array([float(f"{r:.5g}") for r in bad]))
        assert [row[0] for row in found] == [celsius[at]]
        assert found[0][2] == pytest.approx(ohm[at], rel=0.005)
        assert found[0][3] == pytest.approx(-off_k, abs=0.1)


def test_a_misprint_between_wide_rows_is_found():
    """Rows 20 K apart show an error of 1.5 K; a real part's bends are allowed 0.6 K there."""
    celsius, ohm = rows(20.0, digits=5)
    ohm[4] = resistance_ohm(REAL, celsius[4] + 1.5)
    assert [row[0] for row in odd_rows(celsius, ohm)] == [celsius[4]]


def test_a_misprint_at_an_end_is_found_when_it_is_larger():
    """The first and last row, foretold from one side only, show an error of two kelvin."""
    celsius, ohm = rows(5.0, digits=5)
    for at in (0, -1):
        bad = ohm.copy()
        bad[at] = resistance_ohm(REAL, celsius[at] + (2.0 if at else -2.0))
        assert odd_rows(celsius, bad)


def test_two_misprints_are_both_found():
    """Two wrong rows of one table are told one by one."""
    celsius, ohm = rows(5.0, digits=5)
    ohm[10] *= 1.03
    ohm[20] *= 0.98
    assert sorted(row[0] for row in odd_rows(celsius, ohm)) == [celsius[10], celsius[20]]


def test_rows_in_any_order():
    """The order of the rows does not matter to the doubts."""
    celsius, ohm = rows(5.0)
    ohm[12] *= 1.03
    order = np.argsort(np.sin(np.arange(len(celsius))))
    assert doubts(celsius[order], ohm[order]) == doubts(celsius, ohm) != []


def test_a_few_rows_are_not_judged():
    """Five rows cannot tell which of them is wrong."""
    celsius, ohm = rows(30.0)
    ohm = ohm[:5] * [1.0, 1.0, 1.05, 1.0, 1.0]
    assert doubts(celsius[:5], ohm) == []


def test_worth_of_the_last_digit():
    """The unit is that of the most digits or decimals seen in the print, row by row."""
    assert last_digit_ohm([333600.0, 10000.0, 915.5]) == pytest.approx([100.0, 10.0, 0.1])
    assert last_digit_ohm([195652, 10000, 531]) == pytest.approx([1.0, 1.0, 1.0])


def test_rounding_in_kelvin():
    """Half an ohm of 531 at 125 degC is worth 0.04 K of an ordinary part."""
    found = rounding_k([115.0, 120.0, 125.0], [672.0, 596.0, 531.0])
    assert found[-1] == pytest.approx(0.5 / 531 / 0.0231, rel=0.02)


def test_a_chain_passes_the_doubts_on():
    """A lamp with a misprinted table says so with the sensor's place, a good one nothing."""
    celsius, ohm = rows(5.0)
    good = {"table": list(zip(celsius, ohm, strict=True))}
    assert chain(thermistor=good).warnings == ()
    ohm[12] *= 1.03
    bad = chain(thermistor={"table": list(zip(celsius, ohm, strict=True))}).warnings
    assert len(bad) == 1
    assert bad[0].startswith("sensors.ntc_0: thermistor: ")
    assert "at 20 degC" in bad[0]
    assert "misprint" in bad[0]
