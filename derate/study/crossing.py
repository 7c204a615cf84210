"""Where a quantity falls through zero: bisection that leaps along the secant where it may."""

import math
from collections.abc import Callable

MOST_TURNS = 180
HALVED = 3
"""Every third turn halves the bracket, so that these turns leave nothing of it."""


def crossing(
    margin: Callable[[float], float], low: float, high: float, *, exact: float
) -> tuple[float, float] | None:
    """Two values around the one at which ``margin`` falls through zero, ``exact`` apart at most.

    ``margin`` is not below zero at the first and below zero at the second; it may be -inf, where
    there is no rest. None unless it is so at ``low`` and ``high``. (Illinois method: the end that
    stays counts half, so that both ends move. Halving helps where the margin is flat or -inf.)
    """
    at_low, at_high = margin(low), margin(high)
    if not at_low >= 0.0 > at_high:
        return None
    kept = 0
    for turn in range(1, MOST_TURNS):
        if abs(high - low) <= exact:
            break
        along = math.isfinite(at_high) and turn % HALVED
        share = at_low / (at_low - at_high) if along else 0.5
        room = 0.5 * exact / abs(high - low)
        middle = low + min(max(share, room), 1.0 - room) * (high - low)
        found = margin(middle)
        if found >= 0.0:
            low, at_low = middle, found
            at_high, kept = (0.5 * at_high if kept > 0 else at_high), 1
        else:
            high, at_high = middle, found
            at_low, kept = (0.5 * at_low if kept < 0 else at_low), -1
    return float(low), float(high)
