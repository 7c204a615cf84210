"""The promises on the first page of derate.h, for any order of events; and that they can break.

A stateful test drives the C through codes, requests and restarts in any order. The same checks,
run on builds with one deliberate mistake, find each of them.
"""

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from derate.control.command import CUTOFF, FAULT, OPEN, SHORT
from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, OPEN_LOOP, POLICIES, small_lamp
from tests.firmware.reach import (
    FULL_Q15,
    PULL_UP_OPEN,
    filtered_centi_c,
    memory_of,
    mutated,
    walk,
)

SAFE_Q15 = 8192
CUTOFF_CENTI_C = 9000
CAUSES = 0x1F0
CODES = st.one_of(st.sampled_from([0, 1, 4094, 4095, 65535]), st.integers(300, 4040))
REQUESTS = st.one_of(st.sampled_from([0, 1, 32767, 32768, 65535]), st.integers(0, 65535))


def broken_promises(body, codes, requests, command, *, shared=False):
    """The promises that one step did not keep, by name; ``shared``: channels by a table."""
    readings = memory_of(body).reading_centi_c[: len(codes)]
    found = []
    for request, duty in zip(requests, command.duties_q15, strict=True):
        if duty > min(request, FULL_Q15):
            found.append("duty above request")
        if duty > command.limit_q15 and (command.status & FAULT or not shared):
            found.append("duty above limit")
        if duty > 0 and command.limit_q15 == 0:
            found.append("light without a limit")
    if command.status & FAULT and command.limit_q15 > SAFE_Q15:
        found.append("fault above safe")
    if bool(command.status & CAUSES) != bool(command.status & FAULT):
        found.append("fault without cause, or cause without fault")
    if min(readings) == -32768 and not command.status & (OPEN | SHORT):
        found.append("missing reading without fault")
    if max(readings) >= CUTOFF_CENTI_C and command.limit_q15 > 0:
        found.append("light above the cut-off")
    if command.status & CUTOFF and command.limit_q15 > 0:
        found.append("light under the flag of the cut-off")
    return found


def machine_of(policy_name, way="same share"):
    """A state machine that drives two sensors and two channels under one policy."""
    lamp = small_lamp(
        POLICIES[policy_name],
        sensors=2,
        filter_shift=2,
        attack="2 1/s",
        release="0.5 1/s",
        hold="0.2 s",
        max_jump="12 K",
        disagreement="15 K",
        stuck={"drive": 0.3, "off": "1 s", "within": "2 s", "rise": "1 K", "below": "60 degC"},
        sharing={"way": way},
    )
    chains = chains_of(lamp)

    class Promises(RuleBasedStateMachine):
        """Codes, requests and restarts in any order."""

        @initialize()
        def begin(self):
            """A controller just started."""
            self.body = HostBody(lamp, chains)
            self.codes, self.requests, self.command = [2000, 2000], [0, 0], None

        @rule(codes=st.tuples(CODES, CODES))
        def sense(self, codes):
            """Both sensors give any code."""
            self.codes = list(codes)

        @rule(code=st.integers(300, 4040), apart=st.integers(-30, 30))
        def sense_alike(self, code, apart):
            """Both sensors are healthy and near each other."""
            self.codes = [code, min(4040, max(300, code + apart))]

        @rule(requests=st.tuples(REQUESTS, REQUESTS))
        def ask(self, requests):
            """Both channels get any request."""
            self.requests = list(requests)

        @rule(steps=st.integers(1, 30))
        def run(self, steps):
            """Time passes."""
            for _ in range(steps):
                self.command = self.body.step(self.codes, self.requests)
                assert not broken_promises(
                    self.body, self.codes, self.requests, self.command, shared=way != "same share"
                )

        @precondition(lambda self: self.command is not None)
        @rule()
        def restart(self):
            """The firmware starts again."""
            self.body.start()

        @invariant()
        def two_channels(self):
            """Every command has a duty for each channel."""
            command = getattr(self, "command", None)
            assert command is None or len(command.duties_q15) == 2

    Promises.TestCase.settings = settings(max_examples=25, stateful_step_count=30, deadline=None)
    return Promises.TestCase


TestFoldback = machine_of("foldback with hysteresis")
TestSteps = machine_of("steps")
TestPi = machine_of("pi")
TestPredictive = machine_of("predictive")
TestOpenLoop = machine_of("none")
TestShared = machine_of("foldback with hysteresis", "hottest first")


def walk_promises(body, *, shared=False):
    """Promises broken in a long walk of one sensor."""
    found = set()
    for codes, requests in walk(3, 5000, 1):
        command = body.step(codes, requests)
        found |= set(broken_promises(body, codes, requests, command, shared=shared))
    return found


def filter_misses(body, chain, shift):
    """Centi-degC by which the filter misses the reading it was given for long, hot and cold."""
    worst = 0
    for first_c, last_c in ((25.0, 80.0), (80.0, 25.0), (-10.0, -30.0), (-30.0, -10.0)):
        body.start()
        body.step([chain.ideal_code(first_c)], [0, 0])
        code = chain.ideal_code(last_c)
        for _ in range(20 << shift):
            body.step([code], [0, 0])
        worst = max(worst, abs(filtered_centi_c(body) - memory_of(body).reading_centi_c[0]))
    return worst


@pytest.mark.parametrize("policy", POLICIES, ids=str)
def test_a_long_walk_keeps_every_promise(policy):
    """Random codes and requests, with breaks, find no broken promise."""
    assert not walk_promises(HostBody(small_lamp(POLICIES[policy])))


@pytest.mark.parametrize("shift", range(9))
def test_the_filter_reaches_its_input(shift):
    """For every shift, from below and above, on both sides of 0 degC: exactly, it never stalls."""
    lamp = small_lamp(OPEN_LOOP, filter_shift=shift)
    assert filter_misses(HostBody(lamp), chains_of(lamp)[0], shift) == 0


@pytest.mark.parametrize("rate_per_s", [1e-4, 1e-3, 0.3])
def test_the_ramp_never_stalls(rate_per_s):
    """Rates of a fraction of one LSB a step still move the limit, up and down, at that rate."""
    rates = {"attack": f"{rate_per_s} 1/s", "release": f"{rate_per_s} 1/s"}
    lamp = small_lamp(FOLDBACK, **rates)
    body, chain = HostBody(lamp), chains_of(lamp)[0]
    cold, hot = chain.ideal_code(25.0), chain.ideal_code(80.0)
    body.step([cold], [0, 0])
    steps = min(5000, int(0.8 / (rate_per_s * 0.1)))
    moved = steps * rate_per_s * 0.1 * FULL_Q15
    for _ in range(steps):
        fallen = body.step([hot], [0, 0]).limit_q15
    assert fallen == pytest.approx(FULL_Q15 - moved, abs=2)
    for _ in range(steps):
        risen = body.step([cold], [0, 0]).limit_q15
    assert risen == pytest.approx(FULL_Q15, abs=2)


CUTOFF_TEST = "if (reading >= settings->cutoff_centi_c"
MISTAKES = {
    "comparison turned": (CUTOFF_TEST, "if (reading < settings->cutoff_centi_c", "cut-off"),
    "cut-off too high": (CUTOFF_TEST, "if (reading >= settings->cutoff_centi_c + 100", "cut-off"),
    "request not clamped": (
        "smaller(requests_q15[i], DERATE_ONE_Q15)",
        "requests_q15[i]",
        "duty above",
    ),
    "fault not acted on": ("flags == 0u || allowed < target", "allowed > 0u", "fault above safe"),
}


@pytest.mark.parametrize("mistake", MISTAKES, ids=str)
def test_a_mistake_in_the_c_breaks_a_promise(mistake, tmp_path):
    """The walk finds the mistake, by the promise that it breaks."""
    old, new, promise = MISTAKES[mistake]
    body = mutated(small_lamp(OPEN_LOOP), tmp_path, old, new)
    assert any(promise in name for name in walk_promises(body))


def test_shares_under_a_fault_are_found(tmp_path):
    """A controller that shares by its table under a fault too drives a channel above the limit."""
    lamp = small_lamp(FOLDBACK, sharing={"way": "hottest first"})
    assert not walk_promises(HostBody(lamp), shared=True)
    broken = mutated(lamp, tmp_path, "(status & DERATE_FAULT) != 0u ? 0 : settings", "settings")
    assert walk_promises(broken, shared=True) == {"duty above limit"}


def test_a_removed_fault_check_is_found(tmp_path):
    """Without the window at the open end an open sensor reads as cold and drives fully."""
    lamp, requests = small_lamp(OPEN_LOOP), [FULL_Q15, FULL_Q15]
    assert HostBody(lamp).step([PULL_UP_OPEN], requests).limit_q15 == SAFE_Q15
    blind = mutated(lamp, tmp_path, "if (code >= table->high_code)", "if (0)")
    assert blind.step([PULL_UP_OPEN], requests).limit_q15 == FULL_Q15


def test_a_stalling_filter_is_found(tmp_path):
    """With 2 fraction bits instead of 14 the filter stops kelvins short of a rising reading."""
    lamp = small_lamp(OPEN_LOOP, filter_shift=8)
    body = mutated(
        lamp, tmp_path, "#define FILTER_ONE UINT32_C(16384)", "#define FILTER_ONE UINT32_C(4)"
    )
    body.step([2000], [0, 0])
    for _ in range(5000):
        body.step([1000], [0, 0])
    memory = memory_of(body)
    filtered = ((memory.filtered + 2) >> 2) - 32768
    assert memory.reading_centi_c[0] - filtered > 50
