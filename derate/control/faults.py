"""Faults of the sensors, and how long one stays in force.

Each check looks at levels, never at edges: while the cause is there the fault is there, whatever
the commands do. A fault clears after a number of healthy steps in a row, or never when latched.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from numba.extending import register_jitable

from derate.control.command import DISAGREE, FAULT, JUMP

MICROKELVIN = 1e6
"""Differences are rounded to 1e-6 K, so that readings in whole 0.01 K compare as integers do."""


class FaultRules(NamedTuple):
    """Largest believable change per step and difference of two sensors [K] (inf: no check)."""

    max_jump_k: float
    disagreement_k: float
    clear_steps: int
    latch: bool


class FaultState(NamedTuple):
    """The causes of the fault in force (0: none) and the healthy steps still missing."""

    flags: int
    clear_steps: int


def begin() -> FaultState:
    """The state before the first step: healthy."""
    return FaultState(0, 0)


@register_jitable
def apart_k(first_c: float, second_c: float) -> float:
    """How far two readings [degC] are apart [K]."""
    return math.floor(abs(first_c - second_c) * MICROKELVIN + 0.5) / MICROKELVIN


@register_jitable
def jump(rules: FaultRules, reading_c: float, previous_c: float) -> int:
    """JUMP when the reading moved further than is believable; a missing reading is nan."""
    if math.isnan(reading_c) or math.isnan(previous_c):
        return 0
    return JUMP if apart_k(reading_c, previous_c) > rules.max_jump_k else 0


@register_jitable
def disagreement(rules: FaultRules, readings_c: Sequence[float]) -> int:
    """DISAGREE when two readings, nan if missing, are further apart than is believable."""
    lowest_c, highest_c = math.inf, -math.inf
    for reading_c in readings_c:
        if not math.isnan(reading_c):
            lowest_c, highest_c = min(lowest_c, reading_c), max(highest_c, reading_c)
    if not highest_c > lowest_c:
        return 0
    return DISAGREE if apart_k(highest_c, lowest_c) > rules.disagreement_k else 0


@register_jitable
def judge(rules: FaultRules, state: FaultState, seen: int) -> FaultState:
    """The fault in force after a step that saw the causes ``seen``."""
    if seen:
        return FaultState(state.flags | seen | FAULT, rules.clear_steps)
    missing = max(0, state.clear_steps - 1)
    keep = missing > 0 or rules.latch
    return FaultState(state.flags if keep else 0, missing)
