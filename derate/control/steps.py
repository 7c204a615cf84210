"""Policy "steps": the hottest engaged level sets the limit.

A level engages at or above its threshold and releases at or below threshold - hysteresis; at
the threshold itself it stays engaged, so that hysteresis 0 neither latches nor chatters.
"""

from typing import NamedTuple


class Settings(NamedTuple):
    """Thresholds [degC], rising; a limit (0..1) for each, not rising; hysteresis [K]."""

    at_c: tuple[float, ...]
    limits: tuple[float, ...]
    hysteresis_k: float


def begin(settings: Settings) -> tuple[int]:
    """The state before the first step: no level engaged."""
    return (0,)


def limit(
    settings: Settings, state: tuple[int], reading_c: float, period_s: float
) -> tuple[float, tuple[int]]:
    """The limit (0..1) at ``reading_c`` [degC], and how many levels are engaged."""
    engaged = state[0]
    while engaged < len(settings.at_c) and reading_c >= settings.at_c[engaged]:
        engaged += 1
    while engaged > 0:
        below_k = settings.at_c[engaged - 1] - reading_c
        if below_k <= 0.0 or below_k < settings.hysteresis_k:
            break
        engaged -= 1
    return (settings.limits[engaged - 1] if engaged > 0 else 1.0), (engaged,)
