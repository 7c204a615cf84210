"""The controller in Python, step for step the order of the C reference, in floating point.

codes -> window -> table -> jump -> disagreement -> stuck -> hottest -> filter -> policy
      -> fault and cut-off -> attack, hold, release -> duty = request * share of the limit

It reads the same table as the C; everything after it is computed without the C's rounding, so
the two agree within quantisation.
"""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from derate.control import faults, filter, ramp, stuck
from derate.control.command import (
    CUTOFF,
    FAULT,
    ONE_Q15,
    OPEN,
    POLICY,
    RAMP,
    SECOND,
    SHORT,
    Command,
)
from derate.control.periods import periods_in
from derate.control.policy import Policy, policy_of
from derate.control.shares import share_q15, shares_of
from derate.lamp.controller import Controller
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain

CHECK_NOTHING = stuck.StuckRule(0.0, 0, 1, math.inf, -math.inf)
ROUNDING_Q15 = 1e-6
"""Share of a Q15 unit forgiven when a limit is rounded down, for floating-point rounding."""


class Rules(NamedTuple):
    """What does not change while the lamp runs."""

    period_s: float
    cutoff_c: float
    safe: float
    shift: int
    ramp: ramp.Ramp
    faults: faults.FaultRules
    stuck: stuck.StuckRule


class State(NamedTuple):
    """All memory of the controller."""

    readings_c: tuple[float, ...]
    filtered_c: float
    policy: Any
    ramp: ramp.RampState
    faults: faults.FaultState
    stuck: stuck.StuckState
    fresh: bool


def rules_of(lamp: Lamp) -> Rules:
    """The rules of a lamp's controller, durations in whole control periods."""
    chosen, period_s = lamp.controller, lamp.timing.control_period_s
    return Rules(
        period_s=period_s,
        cutoff_c=chosen.cutoff_c,
        safe=chosen.safe_duty,
        shift=chosen.filter_shift,
        ramp=ramp.Ramp(
            _per_step(chosen.attack_per_s, period_s),
            _per_step(chosen.release_per_s, period_s),
            periods_in(chosen.hold_s, period_s),
        ),
        faults=faults.FaultRules(
            math.inf if chosen.max_jump_k is None else chosen.max_jump_k,
            math.inf if chosen.disagreement_k is None else chosen.disagreement_k,
            periods_in(chosen.clear_after_s, period_s),
            chosen.latch,
        ),
        stuck=_stuck_rule(chosen, period_s),
    )


def _per_step(rate_per_s: float | None, period_s: float) -> float:
    return math.inf if rate_per_s is None else rate_per_s * period_s


def _stuck_rule(chosen: Controller, period_s: float) -> stuck.StuckRule:
    if chosen.stuck is None:
        return CHECK_NOTHING
    return stuck.StuckRule(
        drive=_least_q15(chosen.stuck.drive) / ONE_Q15,  # comparable with duties, which are Q15
        off_steps=max(1, periods_in(chosen.stuck.off_s, period_s)),
        within_steps=max(1, periods_in(chosen.stuck.within_s, period_s)),
        rise_k=chosen.stuck.rise_k,
        below_c=chosen.stuck.below_c,
    )


class PythonBody:
    """The controller of ``lamp``, reading its sensors through ``chains``, one each, in order.

    ``state`` is all its memory; it may be read, and set to go on from an earlier one.
    """

    def __init__(self, lamp: Lamp, chains: Sequence[Chain]) -> None:
        self.rules = rules_of(lamp)
        self.chains = tuple(chains)
        self.policy = policy_of(lamp)
        self.shares = shares_of(lamp)
        self.start()

    def start(self) -> None:
        """Begin as after a reset."""
        self.state = State(
            readings_c=(math.nan,) * len(self.chains),
            filtered_c=filter.RESTART_C,
            policy=self.policy.begin(),
            ramp=ramp.begin(),
            faults=faults.begin(),
            stuck=stuck.begin(self.rules.stuck),
            fresh=True,
        )

    def step(self, codes: Sequence[int], requests_q15: Sequence[int]) -> Command:
        """One control period: codes (one a sensor) and requests (Q15, one a channel) to duties."""
        rules, state = self.rules, self.state
        readings_c = tuple(
            chain.reading_c(int(code)) for chain, code in zip(self.chains, codes, strict=True)
        )
        reading_c = max((r for r in readings_c if not math.isnan(r)), default=math.nan)
        seen = self._wires(codes, readings_c) | _implausible(rules, state, readings_c)
        stuck_seen, stuck_state = stuck.judge(rules.stuck, state.stuck, reading_c)
        seen |= stuck_seen
        state = state._replace(
            readings_c=readings_c, faults=faults.judge(rules.faults, state.faults, seen)
        )
        status, state = _limited(rules, self.policy, state, reading_c, requests_q15, bool(seen))
        limit_q15 = _q15(state.ramp.limit)
        duties = self._duties(limit_q15, status, requests_q15)
        self.state = state._replace(
            policy=self.policy.driven(state.policy, duties),
            stuck=stuck.count(
                rules.stuck, stuck_state, reading_c, max(duties) / ONE_Q15, faulty=bool(seen)
            ),
            fresh=False,
        )
        return Command(duties, limit_q15, status)

    def _duties(self, limit_q15: int, status: int, requests_q15: Sequence[int]) -> tuple[int, ...]:
        """Request times share, rounded down; under a fault every share is the limit itself."""
        requests = [min(int(request), ONE_Q15) for request in requests_q15]
        if self.shares is None or status & FAULT:
            return tuple(request * limit_q15 >> 15 for request in requests)
        return tuple(
            request * share_q15(knots, limit_q15) >> 15
            for request, knots in zip(requests, self.shares.knots_q15, strict=True)
        )

    def _wires(self, codes: Sequence[int], readings_c: tuple[float, ...]) -> int:
        """OPEN and SHORT, as the fault windows of the sensors take the codes."""
        seen = 0
        for index, (chain, code) in enumerate(zip(self.chains, codes, strict=True)):
            if math.isnan(readings_c[index]):
                window = chain.lookup.window
                is_open = (int(code) >= window.high_code) == window.open_is_high
                seen |= (OPEN if is_open else SHORT) | (SECOND if index else 0)
        return seen


def _implausible(rules: Rules, state: State, readings_c: tuple[float, ...]) -> int:
    """JUMP of each sensor and DISAGREE of two."""
    seen = faults.disagreement(rules.faults, readings_c)
    for index, (now_c, before_c) in enumerate(zip(readings_c, state.readings_c, strict=True)):
        jumped = faults.jump(rules.faults, now_c, before_c)
        seen |= jumped | (SECOND if jumped and index else 0)
    return seen


def _limited(
    rules: Rules,
    policy: Policy,
    state: State,
    reading_c: float,
    requests_q15: Sequence[int],
    faulty: bool,
) -> tuple[int, State]:
    """The status and the state after policy, fault, cut-off and ramp."""
    status = state.faults.flags
    target, filtered_c, memory = rules.safe, filter.RESTART_C, state.policy
    if not faulty:
        filtered_c = filter.smooth(state.filtered_c, reading_c, rules.shift)
        allowed, memory = policy.limit(state.policy, filtered_c, rules.period_s, requests_q15)
        target = min(allowed, rules.safe) if status else allowed
        status |= POLICY if _q15(allowed) < ONE_Q15 else 0
    if reading_c >= rules.cutoff_c or filtered_c >= rules.cutoff_c:
        target = 0.0
        status |= CUTOFF
    at_once = state.fresh or status & (FAULT | CUTOFF) != 0
    ramped = ramp.move(rules.ramp, state.ramp, target, at_once=at_once)
    status |= RAMP if _q15(ramped.limit) < _q15(target) else 0
    return status, state._replace(filtered_c=filtered_c, policy=memory, ramp=ramped)


def _least_q15(share: float) -> int:
    """A share (0..1) as Q15, rounded down, 0 for zero alone."""
    return max(_q15(share), 1) if share > 0.0 else 0


def _q15(share: float) -> int:
    """A share (0..1) as Q15, rounded down."""
    return int(share * ONE_Q15 + ROUNDING_Q15)
