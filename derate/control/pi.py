"""Policy "pi": proportional and integral action on the reading's excess over a setpoint.

    limit = 1 - gain e - s,   s <- s + integral gain e dt,   e = reading - setpoint

held between floor and 1. Anti-windup: s never goes below 0, so nothing is stored up while cold,
and it rises only as far as the limit just reaches floor.
"""

from typing import NamedTuple


class Settings(NamedTuple):
    """Setpoint [degC], gain [1/K], integral gain [1/(K s)], lowest limit (0..1)."""

    setpoint_c: float
    gain_per_k: float
    integral_per_k_s: float
    floor: float


def begin(settings: Settings) -> tuple[float]:
    """The state before the first step: an empty integral."""
    return (0.0,)


def limit(
    settings: Settings, state: tuple[float], reading_c: float, period_s: float
) -> tuple[float, tuple[float]]:
    """The limit (0..1) at ``reading_c`` [degC] one ``period_s`` [s] later, and the integral."""
    integral = state[0]
    excess_k = reading_c - settings.setpoint_c
    proportional = settings.gain_per_k * excess_k
    change = settings.integral_per_k_s * excess_k * period_s
    deepest = 1.0 - settings.floor
    if excess_k > 0.0:
        integral += min(change, max(0.0, deepest - proportional - integral))
    else:
        integral = max(0.0, integral + change)
    return 1.0 - min(deepest, max(0.0, proportional + integral)), (integral,)
