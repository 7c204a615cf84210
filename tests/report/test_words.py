"""Numbers in plain words."""

import math

import pytest

from derate.report.clock import clock_for
from derate.report.words import below_or_above, duration, figures, number, percent, typeset


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (0.0, "0 s"),
        (0.0042, "4.2 ms"),
        (0.3, "0.3 s"),
        (12.0, "12 s"),
        (59.96, "1 min"),
        (200.0, "3 min 20 s"),
        (3599.7, "1 h"),
        (3900.0, "1 h 05 min"),
        (math.nan, "-"),
    ],
)
def test_durations(time_s, text):
    """Times are said in the units an engineer would use, without carry mistakes."""
    assert duration(time_s) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1204.5, "1204"),
        (14.23, "14.2"),
        (9.999, "10.0"),
        (0.00021, "0.000210"),
        (0.0, "0"),
        (math.inf, "-"),
    ],
)
def test_significant_figures(value, text):
    """Three figures that count, never as a power of ten."""
    assert figures(value) == text


def test_missing_numbers_are_dashes():
    """What is not a number is a dash, not nan."""
    assert (number(math.nan), percent(math.nan), figures(math.nan)) == ("-", "-", "-")


@pytest.mark.parametrize(
    ("margin_k", "text"),
    [
        (6.62, "6.6 K below its limit"),
        (0.02, "0.02 K below its limit"),
        (0.0, "0.0 K below its limit"),
        (-0.004, "0.004 K above its limit"),
        (-3.5, "3.5 K above its limit"),
    ],
)
def test_margins(margin_k, text):
    """A margin never rounds to a nought that hides on which side of the limit it is."""
    assert below_or_above(margin_k) == text


def test_percent():
    """One decimal below 100 %, none from there on."""
    assert [percent(ratio) for ratio in (0.058, 1.0, 2.336)] == ["5.8 %", "100 %", "234 %"]


def test_typeset():
    """Signs of degree, minus and times are set properly, hyphens and letters stay."""
    text = typeset("-3.5 K at -40 degC, cut-off, x-1 [degC], airflow x 0.05, x axis")
    assert text == "−3.5 K at −40 °C, cut-off, x-1 [°C], airflow × 0.05, x axis"  # noqa: RUF001


@pytest.mark.parametrize(
    ("span_s", "unit"), [(0.01, "s"), (90.0, "s"), (1800.0, "min"), (86400.0, "h")]
)
def test_clock(span_s, unit):
    """The time axis has the unit that fits and three to eight ticks."""
    clock = clock_for(span_s)
    assert clock.unit == unit
    assert 3 <= span_s / clock.seconds / clock.tick <= 8
