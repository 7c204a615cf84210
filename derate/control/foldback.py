"""Policy "foldback": a straight line from 1 at start to floor at end.

Hysteresis is a backlash on the reading: the reading used follows every rise at once, and a fall
only once it is more than the hysteresis away. Light so comes back along a line of its own,
``hysteresis_k`` cooler, without a step.
"""

import math
from typing import NamedTuple


class Settings(NamedTuple):
    """Ends of the line [degC], lowest limit (0..1), hysteresis [K]."""

    start_c: float
    end_c: float
    floor: float
    hysteresis_k: float


def begin(settings: Settings) -> tuple[float]:
    """The state before the first step: the reading used, colder than any."""
    return (-math.inf,)


def limit(
    settings: Settings, state: tuple[float], reading_c: float, period_s: float
) -> tuple[float, tuple[float]]:
    """The limit (0..1) at ``reading_c`` [degC], and the reading used."""
    used_c = max(reading_c, min(state[0], reading_c + settings.hysteresis_k))
    left = (settings.end_c - used_c) / (settings.end_c - settings.start_c)
    return settings.floor + (1.0 - settings.floor) * min(1.0, max(0.0, left)), (used_c,)
