"""Filter, ramp, durations and the names of faults, each on its own."""

import math

import pytest

from derate.control import command, filter, ramp
from derate.control.periods import periods_in

ROUNDING = 1e-12
"""Shares and shifted readings take a handful of floating-point operations."""


def test_filter_starts_from_its_first_sample():
    """The first reading passes unfiltered: a hot restart is seen as hot."""
    assert filter.smooth(filter.RESTART_C, 85.0, 8) == 85.0


def test_filter_closes_the_gap_by_two_to_the_shift():
    """Each sample takes 1/16 of what is missing at shift 4."""
    assert filter.smooth(20.0, 36.0, 4) == 21.0
    assert filter.smooth(36.0, 20.0, 4) == 35.0


def test_ramp_falls_by_attack_waits_and_rises_by_release():
    """Down 0.1 a step, three steps of waiting, up 0.05 a step."""
    rule = ramp.Ramp(attack=0.1, release=0.05, hold_steps=3)
    state, found = ramp.begin(), []
    for target in (0.8, 0.8, 0.8, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0):
        state = ramp.move(rule, state, target, at_once=False)
        found.append(state.limit)
    desired = [0.9, 0.8, 0.8, 0.8, 0.8, 0.85, 0.9, 0.95, 1.0]
    assert found == pytest.approx(desired, abs=ROUNDING)


def test_ramp_without_rates_follows_at_once():
    """Absent attack and release mean no delay at all."""
    rule = ramp.Ramp(attack=math.inf, release=math.inf, hold_steps=0)
    state = ramp.move(rule, ramp.begin(), 0.2, at_once=False)
    assert ramp.move(rule, state, 0.9, at_once=False).limit == pytest.approx(0.9, abs=ROUNDING)


def test_ramp_cuts_at_once_when_told():
    """A fault does not wait for the attack; hold counts from there."""
    rule = ramp.Ramp(attack=0.001, release=0.5, hold_steps=2)
    assert ramp.move(rule, ramp.begin(), 0.0, at_once=True) == ramp.RampState(0.0, 2)


@pytest.mark.parametrize(
    ("duration_s", "period_s", "desired"),
    [(0.0, 0.1, 0), (0.3, 0.1, 3), (0.31, 0.1, 4), (2.0, 0.1, 20), (0.05, 0.1, 1), (1.0, 3.0, 1)],
)
def test_durations_are_covered_by_whole_periods(duration_s, period_s, desired):
    """Rounded up, and 0.3 s of 0.1 s periods is 3 in spite of floating point."""
    assert periods_in(duration_s, period_s) == desired


def test_fault_names_say_cause_and_sensor():
    """Words for a status: none when healthy, all causes, and which sensor."""
    assert command.fault_name(command.POLICY | command.CUTOFF) == ""
    assert command.fault_name(command.FAULT | command.OPEN) == "sensor open"
    both = command.FAULT | command.SHORT | command.JUMP | command.SECOND
    assert command.fault_name(both) == "sensor short, reading jumped (second sensor)"
    assert command.fault_name(command.REFUSED) == "settings refused"
