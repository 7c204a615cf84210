"""Courses: values over time, held or on a line, once or again and again."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from derate.lamp.course import FactorCourse, ShareCourse, TemperatureCourse

ROUNDING = 1e-12  # interpolation in double precision


@st.composite
def courses(draw):
    """Any course with times on a grid of 10 ms."""
    steps = sorted(draw(st.sets(st.integers(1, 500), max_size=5)))
    at_s = [0.0, *(step / 100 for step in steps)]
    knots = draw(st.lists(st.floats(0, 1), min_size=len(at_s), max_size=len(at_s)))
    every_s = draw(st.one_of(st.none(), st.integers(max([*steps, 1]), 700)))
    return ShareCourse(
        at_s=at_s,
        knots=knots,
        between=draw(st.sampled_from(["hold", "line"])),
        every_s=every_s and every_s / 100,
    )


def test_a_constant_is_a_course():
    """A single value holds at all times and never jumps."""
    course = TemperatureCourse.model_validate("25 degC")
    assert course.value(0.0) == course.value(1e6) == 25.0
    assert course.jumps(1e6) == ()


def test_held_values_switch_at_their_instant():
    """At the instant itself the new value holds, a nanosecond before the old."""
    course = ShareCourse(at_s=[0, 0.3], knots=[1.0, 0.2])
    assert course.value(0.3 - 1e-9) == 1.0
    assert course.value(0.3) == 0.2
    assert course.jumps(1.0) == (0.3,)


def test_a_line_goes_straight_and_then_stays():
    """Between two instants the value lies on the line, after the last it stays."""
    course = FactorCourse(at_s=[0, 10], knots=[1.0, 3.0], between="line")
    assert course.value(2.5) == pytest.approx(1.5, rel=ROUNDING)
    assert course.value(11.0) == 3.0
    assert course.jumps(20.0) == ()
    assert course.changes(20.0) == (10.0,)


def test_repeats_begin_exactly_at_the_period():
    """Three periods of 0.1 s make 0.3 s, although 0.3 % 0.1 is 0.1 in floating point."""
    course = ShareCourse(at_s=[0, 0.05], knots=[1.0, 0.0], every_s=0.1)
    assert course.value(0.3) == 1.0
    assert course.value(0.35) == 0.0
    assert course.jumps(0.2) == (0.05, 0.1, 0.15)


def test_a_last_value_at_the_end_of_the_period_never_shows():
    """Where the next round begins, its first value holds."""
    course = ShareCourse(at_s=[0, 1, 2], knots=[0.0, 1.0, 0.5], every_s=2)
    assert course.value(2.0) == 0.0
    assert course.jumps(3.5) == (1.0, 2.0, 3.0)


@given(courses(), st.lists(st.integers(0, 2000), min_size=1, max_size=20))
def test_one_value_or_many_are_the_same(course, steps):
    """The array form gives to the last bit what the single form gives."""
    t_s = np.array(steps) / 100
    assert course.values(t_s).tolist() == [course.value(float(at_s)) for at_s in t_s]


@given(courses())
def test_jumps_are_where_the_value_jumps(course):
    """On a fine grid a held course changes exactly at its jumps."""
    t_s = np.arange(0, 2000) / 100
    values = course.values(t_s)
    if course.between == "hold":
        changed = t_s[1:][np.diff(values) != 0]
        np.testing.assert_allclose(course.jumps(20.0), changed, rtol=ROUNDING)
    for at_s in course.jumps(20.0):
        assert course.value(at_s) != course.value(at_s - 1e-9)


def test_a_negative_request_is_refused():
    """A share of full duty lies from 0 to 1, also when written in Python."""
    with pytest.raises(ValidationError, match="from 0 to 1"):
        ShareCourse.model_validate(-0.1)
