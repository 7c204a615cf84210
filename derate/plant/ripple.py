"""The ripple of temperatures about their mean while PWM switches the current, once it repeats.

Emitters that are on for the share d of every period P heat a mode of rate r by f while on. With
x = r P, once the periods repeat, the mode is above its mean at the end of the on-time by

    crest = f P c(x, d),    c = ((1 - e^(-x d)) / (1 - e^(-x)) - d) / x

and at the phase p (share of the period since the on-time began) by

    f P / x (1 - e^(-x p) (1 - e^(-x (1 - d))) / (1 - e^(-x)) - d)                     p <= d
    f P / x (e^(-x (p - d)) (1 - e^(-x d)) / (1 - e^(-x)) - d)                         p >= d

which for x -> 0 becomes a triangle with c = d (1 - d) / 2. The response of a heated node to its own
heat rises all through the on-time and falls all through the rest, so a junction's crest is at the
end of its on-time. Where channels differ in duty their crests are added as if they met, which is on
the safe side. Heat is that at the mean temperature, the loss of driver and switches is taken as
steady, and the first periods after a change of duty count as settled.

Exact for constant heat while on. The pulse train's response is superposed mode by mode, a textbook
result: for one mode the peak is P R (1 - e^(-on/tau)) / (1 - e^(-period/tau)).
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.kernel import kernel
from derate.plant.modes import Modes

Array = NDArray[np.float64]

CREST_SLOTS = 37
"""Duties whose crests are kept; a prime, so that steps of the duty do not collide."""
DUTY, CREST = range(2)
"""Rows of a slot: the duty, and the crest of every mode per unit of drive while on [s]."""
DUTY_STEPS = 65536.0
"""Steps of the duty that a slot's number is made from: those of the finest driver."""
SHORT = 1e-4
"""Below this rate x period the crest is summed as a series [-]: its next term is x^2 / 100."""
STRAIGHT = 1e-5
"""Below this rate x period a mode moves in a triangle [-]: it bends by x / 6 of itself."""
PHASES = 64
"""Instants of a period at which the crest of nodes away from the heat is looked for: to 0.2 %."""


@kernel
def crests(modes: Modes, memo: Array, period_s: float, duty: float) -> int:
    """Number of the slot of ``memo`` with the crests at ``duty``, filled if need be."""
    number = int(duty * DUTY_STEPS) % CREST_SLOTS
    slot = memo[number]
    if slot[DUTY, 0] == duty:
        return number
    slot[DUTY, 0] = duty
    for i in range(modes.rate.shape[0]):
        slot[CREST, i] = period_s * crest(modes.rate[i] * period_s, duty)
    return number


@kernel
def crest(x: float, duty: float) -> float:
    """c(x, d): how far a mode is above its mean at the end of the on-time [-]."""
    if x < SHORT:
        return 0.5 * duty * (1.0 - duty) * (1.0 + x * (1.0 - 2.0 * duty) / 6.0)
    return (np.expm1(-x * duty) / np.expm1(-x) - duty) / x


def swing(x: Array, duty: float, phase: Array) -> Array:
    """How far modes are above their mean at phases of the period, per f P (n, phases)."""
    on, off = np.minimum(phase, duty), np.maximum(phase - duty, 0.0)
    triangle = (1.0 - duty) * (on - 0.5 * duty) - duty * off
    bent = np.maximum(x, STRAIGHT)[:, None]
    fallen = np.expm1(-bent)
    rising = 1.0 - np.exp(-bent * on) * np.expm1(-bent * (1.0 - duty)) / fallen
    falling = np.exp(-bent * off) * np.expm1(-bent * duty) / fallen
    wave = (np.where(phase <= duty, rising, falling) - duty) / bent
    return np.where(x[:, None] > STRAIGHT, wave, triangle)


def ripple_k(modes: Modes, period_s: float, duty: Array, on_heat_w: Array) -> Array:
    """Crest of every node (N) above its mean [K] in the periodic state.

    ``duty`` and ``on_heat_w`` (heat inputs that are switched, the first of all): share of the time
    [0..1] and heat while on [W]. Inputs of equal duty are switched together; the crests of others
    are added. Away from the heat the crest comes later than the end of the on-time: it is looked
    for at ``PHASES`` instants.
    """
    nodes = modes.project.shape[1]
    inputs = np.arange(len(modes.rate), len(modes.rate) + len(duty))
    total = np.zeros(nodes)
    for share in np.unique(duty[(duty > 0.0) & (duty < 1.0)]):
        heat_w = np.where(duty == share, on_heat_w, 0.0)
        phase = np.append(np.arange(PHASES) / PHASES, share)
        moved = swing(modes.rate * period_s, share, phase)
        moved *= period_s * (heat_w @ modes.drive[: len(duty)])[:, None]
        wave = modes.response[: len(modes.rate), :nodes].T @ moved
        at_once = modes.response[inputs, :nodes].T @ heat_w
        wave += np.outer(at_once, (phase <= share) - share)
        total += wave.max(axis=1)
    return total
