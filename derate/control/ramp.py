"""Attack, hold and release: how fast the limit follows what is allowed.

Downwards the limit moves by at most the attack; it then holds for some steps, counted since it
last fell; upwards it moves by at most the release.
"""

from typing import NamedTuple

from numba.extending import register_jitable


class Ramp(NamedTuple):
    """Largest change of the limit per step, as shares of 1 (inf: at once), and the hold."""

    attack: float
    release: float
    hold_steps: int


class RampState(NamedTuple):
    """The limit (0..1) and the steps still to wait before it may rise."""

    limit: float
    hold_steps: int


def begin() -> RampState:
    """The state before the first step."""
    return RampState(1.0, 0)


@register_jitable
def move(ramp: Ramp, state: RampState, target: float, at_once: bool) -> RampState:
    """The state one step later; ``at_once`` makes a fall ignore the attack."""
    if target < state.limit:
        fall = state.limit - target
        step = fall if at_once else min(fall, ramp.attack)
        return RampState(state.limit - step, ramp.hold_steps)
    if state.hold_steps > 0:
        return RampState(state.limit, state.hold_steps - 1)
    return RampState(state.limit + min(target - state.limit, ramp.release), 0)
