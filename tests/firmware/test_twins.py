"""The Python controller and the C agree within quantisation, over random walks of codes.

Both take the same readings, in whole 0.01 degC. From there on the C rounds and Python does not:

- the policy's limit and the ramped limit are each rounded down to Q15: 2 LSB;
- behind the filter the C rounds the reading to 0.01 degC, after a fraction of 2^-14 of that:
  at most 0.52 of 0.01 K, times the policy's slope.

A policy with thresholds may decide differently when the filtered reading is within that of one.
"""

import pytest

from derate.control.body import PythonBody
from derate.control.command import CUTOFF, FAULT, POLICY, RAMP
from derate.control.shares import share_q15, shares_of
from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, POLICIES, STEPS, small_lamp
from tests.firmware.observed import extreme, predictive_demo
from tests.firmware.reach import filtered_centi_c, walk

ROUNDING_LSB = 2
"""Two roundings down of less than one Q15 LSB each."""
FILTER_ROUNDING_CENTI = 0.52
"""Half of 0.01 K, and the filter's fraction: 2^8 of 2^14 parts, rounded up."""
ONE_Q15 = 32768
STEPS_WALKED = 20000
STEEPEST = 3
"""Two equal channels that give light one after the other: each goes dark over half the power."""
ROUGH = POLICY | RAMP
"""Flags that compare a limit with 1.0 or a target: one LSB may turn them."""


def twins(lamp):
    """Both bodies of a lamp."""
    chains = chains_of(lamp)
    return PythonBody(lamp, chains), HostBody(lamp, chains)


def compare(lamp, *, bound_lsb, seed=1, calm=False):
    """Walk both bodies side by side; limits, duties and flags must agree."""
    ours, theirs = twins(lamp)
    for codes, requests in walk(seed, STEPS_WALKED, len(lamp.sensors), calm=calm):
        python, c = ours.step(codes, requests), theirs.step(codes, requests)
        assert abs(python.limit_q15 - c.limit_q15) <= bound_lsb, (codes, python, c)
        assert python.status & ~ROUGH == c.status & ~ROUGH, (codes, python, c)
        for mine, other in zip(python.duties_q15, c.duties_q15, strict=True):
            assert abs(mine - other) <= bound_lsb


@pytest.mark.parametrize("policy", POLICIES, ids=str)
@pytest.mark.parametrize("sensors", [1, 2])
def test_every_policy_agrees(policy, sensors):
    """Unfiltered, limit and duties differ by roundings alone, faults and cut-off not at all."""
    checks = {"max_jump": "8 K"} | ({"disagreement": "5 K"} if sensors == 2 else {})
    lamp = small_lamp(POLICIES[policy], sensors=sensors, **checks)
    compare(lamp, bound_lsb=ROUNDING_LSB)


@pytest.mark.parametrize("policy", POLICIES, ids=str)
def test_attack_hold_and_release_agree(policy):
    """Ramps keep the agreement: rates are held to 2^-31 a step.

    Without hold under PI, whose target may fall by less than one LSB in a step: whether it fell,
    which restarts the hold, then is a matter of rounding.
    """
    ramps = {"attack": "0.7 1/s", "release": "0.11 1/s", "max_jump": "8 K"}
    if policy != "pi":
        ramps["hold"] = "0.3 s"
    compare(small_lamp(POLICIES[policy], **ramps), bound_lsb=ROUNDING_LSB)


@pytest.mark.parametrize("shift", range(1, 9))
def test_the_filter_agrees(shift):
    """Behind the filter the difference is the rounding of the reading, times the slope."""
    slope = 0.9 * ONE_Q15 / 2000
    lamp = small_lamp(FOLDBACK, filter_shift=shift, max_jump="8 K", cutoff="124 degC")
    compare(lamp, bound_lsb=ROUNDING_LSB + FILTER_ROUNDING_CENTI * slope)


@pytest.mark.parametrize(
    "lamp", [predictive_demo("cycle_front_lamp"), predictive_demo("hand_lamp")]
)
def test_the_observer_is_the_same_bit_for_bit(lamp):
    """Unfiltered and without ramps, nothing of the predictive policy is rounded differently."""
    ours, theirs = twins(lamp)
    limits = set()
    for codes, requests in walk(5, STEPS_WALKED, 1):
        requests = requests[: len(lamp.channels)]
        python = ours.step(codes, requests)
        assert python == theirs.step(codes, requests)
        limits.add(python.limit_q15)
    assert len(limits) > 100


def test_shares_are_the_same_bit_for_bit():
    """Of the same limit both make the same duties, with a table and, under a fault, without."""
    lamp = small_lamp(FOLDBACK, max_jump="8 K", sharing={"way": "hottest first"})
    knots, (_, theirs) = shares_of(lamp).knots_q15, twins(lamp)
    above = 0
    for codes, requests in walk(8, STEPS_WALKED, 1):
        c = theirs.step(codes, requests)
        shares = [share_q15(one, c.limit_q15) for one in knots]
        if c.status & FAULT:
            shares = [c.limit_q15] * len(knots)
        due = [
            min(request, ONE_Q15) * share >> 15
            for request, share in zip(requests, shares, strict=True)
        ]
        assert list(c.duties_q15) == due
        above += max(c.duties_q15) > c.limit_q15
    assert above > STEPS_WALKED // 20
    compare(lamp, bound_lsb=ROUNDING_LSB * STEEPEST)


@pytest.mark.parametrize("sign", [1, -1, 0])
def test_the_observer_is_the_same_at_its_extremes(sign, monkeypatch):
    """Gains that add up to the most that 16 bits hold, of one sign or both, overflow nowhere."""
    lamp = extreme(sign, monkeypatch)
    ours, theirs = twins(lamp)
    for codes, requests in walk(6, STEPS_WALKED, 1):
        assert ours.step(codes, requests) == theirs.step(codes, requests)


def test_stuck_and_latch_agree():
    """The stuck check counts the same steps in both."""
    stuck = {"drive": 0.4, "off": "2 s", "within": "6 s", "rise": "3 K", "below": "40 degC"}
    for latch in (False, True):
        lamp = small_lamp(FOLDBACK, stuck=stuck, latch=latch)
        compare(lamp, bound_lsb=ROUNDING_LSB, calm=True)


def test_filtered_steps_differ_only_at_a_threshold():
    """Where filtered readings decide, a difference begins within 0.01 K of a threshold."""
    lamp = small_lamp(STEPS, filter_shift=3, cutoff="124 degC")
    ours, theirs = twins(lamp)
    edges = [5000, 6000, 7000, 4600, 5600, 6600]
    agreed, differing = True, 0
    for codes, requests in walk(7, STEPS_WALKED, 1, calm=True):
        python, c = ours.step(codes, requests), theirs.step(codes, requests)
        same = abs(python.limit_q15 - c.limit_q15) <= ROUNDING_LSB
        if agreed and not same:
            assert min(abs(filtered_centi_c(theirs) - edge) for edge in edges) <= 1
        agreed, differing = same, differing + (not same)
    assert differing < STEPS_WALKED // 100


def test_the_walk_meets_what_it_should():
    """The walk is worth something: it meets limits, faults and the cut-off, and leaves them."""
    body = HostBody(small_lamp(FOLDBACK, max_jump="8 K"))
    seen = [body.step(*sample).status for sample in walk(1, STEPS_WALKED, 1)]
    for flag in (POLICY, FAULT, CUTOFF):
        share = sum(1 for status in seen if status & flag) / STEPS_WALKED
        assert 0.005 < share < 0.9
