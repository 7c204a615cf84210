"""The stuck check: light is driven and no sensor warms up.

A thermistor that came loose, or whose resistance creeps up, reads cold and inside the window;
only "driven, and no rise" finds it. The check is armed at start, and again whenever the drive has
been low for ``off_steps``, if the reading is below ``below_c``: a hot restart does not arm it.
The rise is counted from the lowest reading since arming, so a lamp that still cools when it is
lit again raises no alarm. A fault ends only by such a rise or a restart; switching off and on
does not end it, or every switching on would grant full drive anew.

Driven time counts up a step at a time and, until the alarm, back down while the drive is low:
light that flashes and gives little heat never adds up to an alarm. An arming that is due waits
while a fault is seen: a sensor that is open at start is checked once it reads.

Limits: a lamp carried from warm into cold air while lit may fall and never rise; ``rise_k`` must
therefore lie well below what the drive gives in ``within_steps`` with the weakest channel alone.
Light that flashes less than half the time is not judged, as steady light below the drive is not.
With two sensors the hottest counts, as it does for the policy; one that is stuck cold shows as a
disagreement.
"""

import math
from typing import NamedTuple

from numba.extending import register_jitable

from derate.control.command import STUCK
from derate.control.faults import apart_k


class StuckRule(NamedTuple):
    """``drive`` is a share (0..1) of duty; 0: no check."""

    drive: float
    off_steps: int
    within_steps: int
    rise_k: float
    below_c: float


class StuckState(NamedTuple):
    """Lowest reading since arming [degC] (nan: not armed), steps driven net, steps off."""

    lowest_c: float
    driven_steps: int
    off_steps: int


def begin(rule: StuckRule) -> StuckState:
    """The state before the first step: as after a long darkness."""
    return StuckState(math.nan, 0, rule.off_steps)


@register_jitable
def judge(rule: StuckRule, state: StuckState, reading_c: float) -> tuple[int, StuckState]:
    """STUCK or 0, and the state; ``reading_c`` [degC] is the hottest sensor's, nan if none."""
    if rule.drive == 0.0 or math.isnan(reading_c):
        return 0, state
    found = state.driven_steps >= rule.within_steps
    lowest_c, driven, off = state
    if not found and off >= rule.off_steps and reading_c < rule.below_c:
        lowest_c, driven = reading_c, 0
    if math.isnan(lowest_c):
        return 0, StuckState(lowest_c, driven, off)
    lowest_c = min(lowest_c, reading_c)
    if apart_k(reading_c, lowest_c) >= rule.rise_k:
        return 0, StuckState(math.nan, 0, off)
    return (STUCK if found else 0), StuckState(lowest_c, driven, off)


@register_jitable
def count(
    rule: StuckRule, state: StuckState, reading_c: float, highest_duty: float, faulty: bool
) -> StuckState:
    """The state after a step whose highest duty was ``highest_duty`` (0..1).

    ``faulty``: whether that step saw a fault.
    """
    lowest_c, driven, off = state
    armed = not math.isnan(lowest_c)
    if highest_duty < rule.drive:
        found = driven >= rule.within_steps
        return StuckState(
            lowest_c, driven if found else max(driven - 1, 0), min(off + 1, rule.off_steps)
        )
    if armed and not math.isnan(reading_c):
        driven = min(driven + 1, rule.within_steps)
    return StuckState(lowest_c, driven, off if faulty and not armed else 0)
