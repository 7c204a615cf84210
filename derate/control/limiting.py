"""What a control period makes of readings, around the policy: checks, filter, cut-off and ramp.

Plain functions of numbers and tuples of numbers: the interpreter runs them one lamp at a time
(``derate.control.body``), and compiled they run in the batch (``derate.control.compiled_step``), to
the same last bit.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from numba.extending import register_jitable

from derate.control import faults, filter, ramp, stuck
from derate.control.command import CUTOFF, FAULT, JUMP, ONE_Q15, POLICY, RAMP, SECOND
from derate.control.periods import periods_in
from derate.lamp.controller import Controller
from derate.lamp.lamp import Lamp

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


class Held(NamedTuple):
    """What is kept from one control period to the next, but for readings and the policy's own."""

    filtered_c: float
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


def begin(rules: Rules) -> Held:
    """What is kept before the first period."""
    return Held(filter.RESTART_C, ramp.begin(), faults.begin(), stuck.begin(rules.stuck), True)


@register_jitable
def hottest_c(readings_c: Sequence[float]) -> float:
    """The highest reading [degC], nan where all are missing."""
    found_c = math.nan
    for reading_c in readings_c:
        if math.isnan(found_c) or reading_c > found_c:
            found_c = reading_c
    return found_c


@register_jitable
def implausible(rules: Rules, readings_c: Sequence[float], before_c: Sequence[float]) -> int:
    """JUMP of each sensor and DISAGREE of two."""
    seen = faults.disagreement(rules.faults, readings_c)
    for i in range(len(readings_c)):
        if faults.jump(rules.faults, readings_c[i], before_c[i]) != 0:
            seen |= JUMP | (SECOND if i > 0 else 0)
    return seen


@register_jitable
def looked(rules: Rules, held: Held, reading_c: float, seen: int) -> tuple[int, Held]:
    """The faults seen, stuck included, and what is kept after faults and filter.

    ``reading_c`` [degC]: the hottest; ``seen``: faults of wires and plausibility.
    """
    found, stuck_state = stuck.judge(rules.stuck, held.stuck, reading_c)
    seen |= found
    filtered_c = filter.RESTART_C
    if seen == 0:
        filtered_c = filter.smooth(held.filtered_c, reading_c, rules.shift)
    in_force = faults.judge(rules.faults, held.faults, seen)
    return seen, Held(filtered_c, held.ramp, in_force, stuck_state, held.fresh)


@register_jitable
def limited(
    rules: Rules, held: Held, reading_c: float, seen: int, allowed: float
) -> tuple[int, Held]:
    """The status, and what is kept after policy, fault, cut-off and ramp.

    ``allowed`` [0..1]: by the policy, which is not asked while a fault is seen.
    """
    status = held.faults.flags
    target = rules.safe
    if seen == 0:
        target = min(allowed, rules.safe) if status != 0 else allowed
        status |= POLICY if share_q15(allowed) < ONE_Q15 else 0
    if reading_c >= rules.cutoff_c or held.filtered_c >= rules.cutoff_c:
        target = 0.0
        status |= CUTOFF
    at_once = held.fresh or status & (FAULT | CUTOFF) != 0
    ramped = ramp.move(rules.ramp, held.ramp, target, at_once)
    status |= RAMP if share_q15(ramped.limit) < share_q15(target) else 0
    return status, Held(held.filtered_c, ramped, held.faults, held.stuck, held.fresh)


@register_jitable
def driven(rules: Rules, held: Held, reading_c: float, seen: int, highest_q15: int) -> Held:
    """What is kept at the end of a period whose highest duty was ``highest_q15``."""
    counted = stuck.count(rules.stuck, held.stuck, reading_c, highest_q15 / ONE_Q15, seen != 0)
    return Held(held.filtered_c, held.ramp, held.faults, counted, False)


def _least_q15(share: float) -> int:
    """A share (0..1) as Q15, rounded down, 0 for zero alone."""
    return max(share_q15(share), 1) if share > 0.0 else 0


@register_jitable
def share_q15(share: float) -> int:
    """A share (0..1) as Q15, rounded down."""
    return int(share * ONE_Q15 + ROUNDING_Q15)
