"""What is seen of derating, against the published thresholds."""

import numpy as np
import pytest

from derate.study.tune_visibility import HALF_NOTICE, JUST_NOTICEABLE, STEPLESS, Seen, seen_of

ROUNDING = 1e-12
"""Courses are made of a few floating-point operations."""


def course(*knots, period_s=0.1):
    """Times and shares of a course through (time [s], share), looked at every control period."""
    at_s, share = zip(*knots, strict=True)
    time_s = np.arange(at_s[0], at_s[-1] + period_s / 2, period_s)
    return time_s, np.interp(time_s, at_s, share)


def slow_fall(depth):
    """Light that falls by 2 % of full light a minute down to 1 - depth, and stays there."""
    end_s = 60.0 * depth / 0.02
    return course((0.0, 1.0), (end_s, 1.0 - depth), (end_s + 60.0, 1.0 - depth), period_s=1.0)


def jump(size):
    """Light that falls by a share within one control period."""
    return course((0.0, 1.0), (5.0, 1.0), (5.1, 1.0 - size), (10.0, 1.0 - size))


@pytest.mark.parametrize(("size", "noticed"), [(0.073, False), (0.075, True)])
def test_a_step_is_just_noticeable_at_7_4_percent(size, noticed):
    """Hu & Davis (2016): 7.4 % in illuminance is just noticeable."""
    seen = seen_of(*jump(size))
    assert seen.step == pytest.approx(size, abs=ROUNDING)
    assert seen.noticed == noticed
    assert seen.steps == int(noticed)
    assert JUST_NOTICEABLE == 0.074


@pytest.mark.parametrize(
    ("depth", "noticed", "intervening"),
    [(0.14, False, 0.0), (0.151, True, 0.0), (0.34, True, 0.0), (0.351, True, 0.2),
     (0.49, True, 0.2), (0.501, True, 0.5)],
)  # fmt: skip
def test_slow_falls_are_scored_as_published(depth, noticed, intervening):
    """Half notice 15 % (Akashi & Neches); at 2 % a minute one in five intervenes at 35 %, half
    at 50 % (National Research Council of Canada)."""
    seen = seen_of(*slow_fall(depth))
    assert seen.step < STEPLESS
    assert seen.steps == 0
    assert seen.fall == pytest.approx(depth, abs=ROUNDING)
    assert seen.noticed == noticed
    assert seen.intervening == intervening
    assert HALF_NOTICE == 0.15


def test_what_happens_within_a_second_is_one_step():
    """A fast ramp is a step, whatever the control period cuts it into; a slow one is none."""
    fast = seen_of(*course((0.0, 1.0), (2.0, 1.0), (3.0, 0.8), (9.0, 0.8)))
    assert fast.step == pytest.approx(0.2, abs=0.02)
    slow = seen_of(*course((0.0, 1.0), (2.0, 1.0), (22.0, 0.8), (30.0, 0.8)))
    assert slow.step < STEPLESS


def test_steps_of_little_light_are_larger():
    """A change counts as a fraction of the light before it."""
    seen = seen_of(*course((0.0, 0.10), (2.0, 0.10), (2.1, 0.14), (9.0, 0.14)))
    assert seen.step == pytest.approx(0.4, abs=ROUNDING)


def test_hunting_turns_and_following_the_air_does_not():
    """Turns of the light beyond those of the air around it are counted."""
    time_s = np.arange(0.0, 600.0, 0.1)
    share = 0.8 + 0.1 * np.sin(2.0 * np.pi * time_s / 60.0)
    alone = seen_of(time_s, share)
    assert alone.turns == pytest.approx(20, abs=2)
    followed = seen_of(time_s, share, np.sin(2.0 * np.pi * time_s / 60.0)[:, None])
    assert followed.turns == 0


def test_what_is_seen_in_two_profiles_is_the_worse():
    """Steps add up, the largest of each counts."""
    both = Seen(0.1, 2, 0.3, 1).joined(Seen(0.2, 1, 0.1, 4))
    assert both == Seen(0.2, 3, 0.3, 4)
