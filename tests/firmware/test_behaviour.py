"""What both bodies promise: faults, cut-off, ramps and the stuck check, step by step."""

import pytest

from derate.control.body import PythonBody
from derate.control.command import (
    CUTOFF,
    DISAGREE,
    FAULT,
    JUMP,
    OPEN,
    POLICY,
    RAMP,
    SECOND,
    SHORT,
    STUCK,
)
from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, OPEN_LOOP, PI, POLICIES, small_lamp
from tests.firmware.reach import FULL_Q15, PULL_UP_OPEN, PULL_UP_SHORT

SAFE_Q15 = 8192
"""The small lamp's safe duty, 0.25."""
CLEAR_STEPS = 5
"""Its 0.5 s of healthy readings at 0.1 s a step."""
TABLE_ERROR = 0.1 * 0.9 / 20.0
"""Share of duty: 0.1 K that the reading table may err, on the slope of the foldback."""
STUCK_RULE = {"drive": 0.4, "off": "2 s", "within": "6 s", "rise": "3 K", "below": "40 degC"}


class Driven:
    """A body and its chain, driven by temperatures."""

    def __init__(self, body_class, lamp):
        self.chains = chains_of(lamp)
        self.body = body_class(lamp, self.chains)

    def at(self, *readings_c, request=FULL_Q15):
        """One step with these sensor temperatures [degC]."""
        pairs = zip(self.chains, readings_c, strict=True)
        return self.codes(*(chain.ideal_code(c) for chain, c in pairs), request=request)

    def codes(self, *codes, request=FULL_Q15):
        """One step with these codes."""
        return self.body.step(codes, [request, request])


@pytest.fixture(params=[PythonBody, HostBody], ids=["python", "c"])
def drive(request):
    """Makes a driven body of the small lamp, in either language."""
    return lambda *policy, **keys: Driven(request.param, small_lamp(*policy, **keys))


@pytest.mark.parametrize("policy", POLICIES, ids=str)
@pytest.mark.parametrize("code", [PULL_UP_OPEN, PULL_UP_SHORT, 65535])
def test_a_broken_sensor_gives_the_safe_duty_whenever_it_breaks(drive, policy, code):
    """For every step n of a warm-up: faulted there, the limit is safe in that very step."""
    cause = SHORT if code == PULL_UP_SHORT else OPEN
    for n in range(12):
        lamp = drive(POLICIES[policy], attack="0.01 1/s")
        for step in range(n):
            assert not lamp.at(25.0 + 2 * step).status & FAULT
        command = lamp.codes(code)
        assert command.limit_q15 <= SAFE_Q15
        assert command.status & FAULT
        assert command.status & (OPEN | SHORT) == cause


def test_open_never_reads_as_cold(drive):
    """A lamp that starts with an open sensor never gives more than the safe duty."""
    lamp = drive()
    assert {lamp.codes(PULL_UP_OPEN).limit_q15 for _ in range(1000)} == {SAFE_Q15}


def test_a_fault_clears_after_healthy_readings_in_a_row(drive):
    """Five healthy steps are due; a relapse starts the count afresh."""
    lamp = drive(OPEN_LOOP)
    lamp.codes(PULL_UP_OPEN)
    for _ in range(CLEAR_STEPS - 1):
        assert lamp.at(25.0).limit_q15 == SAFE_Q15
    lamp.codes(PULL_UP_OPEN)
    found = [lamp.at(25.0).limit_q15 for _ in range(CLEAR_STEPS)]
    assert found == [SAFE_Q15] * (CLEAR_STEPS - 1) + [FULL_Q15]


def test_a_latched_fault_stays_until_start(drive):
    """With latch no healthy time clears it; start does."""
    lamp = drive(OPEN_LOOP, latch=True)
    lamp.codes(PULL_UP_OPEN)
    assert {lamp.at(25.0).limit_q15 for _ in range(500)} == {SAFE_Q15}
    lamp.body.start()
    assert lamp.at(25.0).limit_q15 == FULL_Q15


def test_commands_do_not_clear_a_fault(drive):
    """Switching off and on again while the sensor is open changes nothing."""
    lamp = drive(OPEN_LOOP)
    for request in (FULL_Q15, 0, 0, FULL_Q15, 1, FULL_Q15):
        command = lamp.codes(PULL_UP_OPEN, request=request)
        assert command.limit_q15 == SAFE_Q15
        assert command.status & FAULT


def test_light_is_released_from_the_safe_duty(drive):
    """After the fault the limit climbs by the release rate, from safe."""
    lamp = drive(OPEN_LOOP, release="0.1 1/s")
    lamp.codes(PULL_UP_OPEN)
    climb = [lamp.at(25.0) for _ in range(CLEAR_STEPS + 2)][-4:]
    step = FULL_Q15 // 100
    desired = [SAFE_Q15, SAFE_Q15 + step, SAFE_Q15 + 2 * step, SAFE_Q15 + 3 * step]
    assert [c.limit_q15 for c in climb] == pytest.approx(desired, abs=2)
    assert climb[-1].status == RAMP


def test_a_jump_is_a_fault_and_the_new_level_is_believed_later(drive):
    """30 K in one step is a fault; staying there is healthy and clears it."""
    lamp = drive(OPEN_LOOP, max_jump="10 K")
    lamp.at(25.0)
    assert lamp.at(34.0).status == 0
    assert lamp.at(64.0).status & (FAULT | JUMP) == FAULT | JUMP
    assert [lamp.at(64.0).status & FAULT for _ in range(CLEAR_STEPS)] == [FAULT] * 4 + [0]


def test_no_jump_is_seen_after_a_gap(drive):
    """A reading after an open sensor has nothing to jump from."""
    lamp = drive(OPEN_LOOP, max_jump="10 K")
    lamp.at(25.0)
    lamp.codes(PULL_UP_OPEN)
    assert not lamp.at(80.0).status & JUMP


def test_sensors_that_disagree_are_a_fault(drive):
    """Up to the allowed difference all is well, beyond it the duty is safe while it lasts."""
    lamp = drive(OPEN_LOOP, sensors=2, disagreement="6 K")
    assert lamp.at(40.0, 45.0).status == 0
    for _ in range(20):
        command = lamp.at(40.0, 48.0)
        assert command.limit_q15 == SAFE_Q15
        assert command.status & DISAGREE


def test_the_status_says_which_sensor_broke(drive):
    """SECOND is set for the second sensor alone."""
    lamp = drive(sensors=2)
    assert lamp.codes(PULL_UP_OPEN, 2000).status == FAULT | OPEN
    lamp.body.start()
    assert lamp.codes(2000, PULL_UP_OPEN).status == FAULT | OPEN | SECOND


def test_the_cut_off_acts_at_once_and_on_the_plain_reading(drive):
    """At 90 degC the limit is 0 although the filter is still cold and attack is slow."""
    lamp = drive(OPEN_LOOP, filter_shift=8, attack="0.01 1/s")
    lamp.at(25.0)
    command = lamp.at(91.0)
    assert command.limit_q15 == 0
    assert command.duties_q15 == (0, 0)
    assert command.status & CUTOFF


def test_the_cut_off_also_heeds_the_filtered_reading(drive):
    """A plain reading that dips below the cut-off does not switch on while the filter is above."""
    lamp = drive(OPEN_LOOP, filter_shift=4)
    lamp.at(95.0)
    assert lamp.at(85.0).limit_q15 == 0


def test_the_cut_off_acts_under_a_fault_too(drive):
    """With one sensor open the other one's heat still cuts off."""
    lamp = drive(OPEN_LOOP, sensors=2)
    assert lamp.codes(PULL_UP_OPEN, lamp.chains[1].ideal_code(95.0)).limit_q15 == 0


def test_the_first_step_takes_the_limit_of_the_policy(drive):
    """A hot restart is dim at once: no ramp from full light, no filter from zero."""
    lamp = drive(FOLDBACK, filter_shift=8, attack="0.01 1/s", release="0.01 1/s")
    command = lamp.at(60.0)
    assert command.limit_q15 == pytest.approx(0.55 * FULL_Q15, abs=TABLE_ERROR * FULL_Q15)
    assert command.status == POLICY


def test_the_filter_restarts_after_a_fault(drive):
    """The first healthy reading after a fault counts in full, however slow the filter."""
    lamp = drive(OPEN_LOOP, filter_shift=8)
    for _ in range(5):
        lamp.at(25.0)
    lamp.codes(PULL_UP_OPEN)
    assert lamp.at(89.0).status & CUTOFF == 0
    lamp.codes(PULL_UP_OPEN)
    lamp.at(60.0)
    assert lamp.body.step([lamp.chains[0].ideal_code(91.0)], [0, 0]).status & CUTOFF


def test_hold_delays_the_return_of_light(drive):
    """Light returns at the fourth step after the last cut when hold is three steps."""
    lamp = drive(FOLDBACK, hold="0.3 s")
    lamp.at(65.0)
    limits = [lamp.at(25.0).limit_q15 for _ in range(4)]
    assert limits[0] == limits[1] == limits[2] < limits[3] == FULL_Q15


def test_duties_follow_each_request(drive):
    """duty = request * limit, rounded down, never above either; requests above 1 count as 1."""
    lamp = drive(FOLDBACK)
    for request in (0, 1, 16384, 32767, 32768, 40000, 65535):
        command = lamp.at(60.0, request=request)
        due = min(request, FULL_Q15) * command.limit_q15 // FULL_Q15
        assert command.duties_q15 == (due, due)


def test_a_sensor_that_does_not_warm_up_is_stuck(drive):
    """Sixty steps of drive without a rise: safe from the next one on, and for good."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    limits = [lamp.at(20.0).limit_q15 for _ in range(200)]
    assert limits == [FULL_Q15] * 60 + [SAFE_Q15] * 140


def test_switching_off_and_on_does_not_free_a_stuck_sensor(drive):
    """A fault that every switching on would clear would be no protection."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    for _ in range(61):
        lamp.at(20.0)
    for _ in range(100):
        lamp.at(20.0, request=0)
    command = lamp.at(20.0)
    assert command.limit_q15 == SAFE_Q15
    assert command.status & STUCK


def test_a_rise_or_a_start_frees_a_stuck_sensor(drive):
    """The rise clears after healthy steps like any fault; start clears at once."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    for _ in range(61):
        lamp.at(20.0)
    found = [lamp.at(24.0).limit_q15 for _ in range(CLEAR_STEPS + 1)]
    assert found == [SAFE_Q15] * (CLEAR_STEPS - 1) + [FULL_Q15] * 2
    lamp.body.start()
    for _ in range(61):
        command = lamp.at(20.0)
    assert command.status & STUCK
    lamp.body.start()
    assert lamp.at(20.0).limit_q15 == FULL_Q15


def test_a_lamp_that_warms_up_is_never_called_stuck(drive):
    """A slow rise of 3 K within the time disarms the check."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    for step in range(300):
        assert lamp.at(20.0 + min(3.5, 0.07 * step)).status == 0


def test_a_hot_restart_is_not_called_stuck(drive):
    """Above 40 degC the check is not armed: a hot board may have no more rise to give."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    assert {lamp.at(45.0).status for _ in range(200)} == {0}


def test_a_lamp_still_cooling_when_lit_again_is_not_called_stuck(drive):
    """The rise counts from the lowest reading, not from the one at which the check was armed."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    for step in range(30):
        lamp.at(39.0 - 0.3 * step, request=0)
    for step in range(300):
        reading_c = max(25.0, 30.0 - 0.2 * step) + min(5.0, 0.15 * max(0, step - 25))
        assert lamp.at(reading_c).status == 0


def test_dim_light_is_no_reason_to_expect_a_rise(drive):
    """Below the drive the time does not count."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    assert {lamp.at(20.0, request=13106).status for _ in range(200)} == {0}
    assert any(lamp.at(20.0, request=13107).status & STUCK for _ in range(62))


def test_a_stuck_check_without_dark_time_still_counts(drive):
    """``off = "0 s"`` arms at the first dark step, not again at every driven one."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE | {"off": "0 s"})
    assert any(lamp.at(20.0).status & STUCK for _ in range(62))


def test_a_sensor_open_at_start_is_checked_once_it_reads(drive):
    """With a safe duty at the drive an open first step does not put the stuck check off for good.

    Cause: the safe duty counted as drive and wiped out the arming due at start.
    """
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE, safe_duty=0.5)
    for _ in range(100):
        lamp.codes(PULL_UP_OPEN)
    assert any(lamp.at(20.0).status & STUCK for _ in range(CLEAR_STEPS + 61))


def test_flashes_do_not_add_up_to_an_alarm(drive):
    """Light for one step in four warms nothing: no alarm, however long it goes on.

    Cause: driven steps were counted over all flashes and never taken back.
    """
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    for step in range(1000):
        assert lamp.at(20.0, request=FULL_Q15 if step % 4 == 0 else 0).status == 0


def test_light_that_is_mostly_on_is_still_checked(drive):
    """Three steps lit of four count two: the alarm comes after four thirds of twice the time."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE)
    seen = [
        lamp.at(20.0, request=0 if step % 4 == 3 else FULL_Q15).status & STUCK
        for step in range(130)
    ]
    assert seen[:110] == [0] * 110
    assert seen[-1]


def test_the_least_drive_is_the_least_light(drive):
    """A drive below one Q15 unit means any light at all, in both bodies, not "no check"."""
    lamp = drive(OPEN_LOOP, stuck=STUCK_RULE | {"drive": 1e-6})
    assert any(lamp.at(20.0, request=1).status & STUCK for _ in range(62))


def test_pi_gives_light_back_after_heat(drive):
    """The regulator's integral unwinds: after heat, cold brings full light."""
    lamp = drive(PI)
    for _ in range(300):
        lamp.at(80.0)
    assert lamp.at(80.0).limit_q15 == pytest.approx(0.1 * FULL_Q15, abs=2)
    assert [lamp.at(50.0).limit_q15 for _ in range(200)][-1] == FULL_Q15
