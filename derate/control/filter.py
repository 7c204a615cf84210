"""The filter on the reading: first order, started from its first sample.

y <- y + (x - y) / 2^shift        time constant about 2^shift control periods
"""

import math

from numba.extending import register_jitable

RESTART_C = math.nan
"""State [degC] of a filter that takes its next sample as it is."""


@register_jitable
def smooth(state_c: float, reading_c: float, shift: int) -> float:
    """The filtered reading [degC] after one more ``reading_c`` [degC]; also the new state."""
    if math.isnan(state_c):
        return reading_c
    return state_c + (reading_c - state_c) / 2.0**shift
