"""What a step of a given length does to each mode, computed once per length.

The lengths met last are kept in a memo (slots, rows, modes), which holds for one configuration.

With x = rate h, under constant drive f:

    z(h)      = DECAY z + CHARGE f                DECAY = e^-x,  CHARGE = h (1 - e^-x) / x
    mean of z = MEAN_HOLD z + MEAN_CHARGE f       MEAN_HOLD = (1 - e^-x) / x
                                                  MEAN_CHARGE = h (x - (1 - e^-x)) / x^2
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from derate.plant.kernel import kernel

if TYPE_CHECKING:
    from derate.plant.modes import Modes

Array = NDArray[np.float64]

MEMO_SLOTS = 37
"""Step lengths kept: a prime with 2 as a primitive root, so that halved steps do not collide."""
LENGTH, DECAY, CHARGE, MEAN_HOLD, MEAN_CHARGE, RISE, GRADED = range(7)
"""Rows of a memo slot; RISE has one entry per heat input, GRADED is the first of several rows.

LENGTH holds h and the number of GRADED rows in use, nan as long as nobody has asked for them.
"""
MOST_GRADES = 14
"""Instants inside the step, h/4, h/16, ..., whose decays are kept in the GRADED rows, in order."""
YOUNG = 0.1
"""An instant earlier than this share of the fastest mode's time constant shows nothing new [-]."""
MEMO_ROWS = GRADED + MOST_GRADES
SHORT = 0.1
"""Below this rate x step the mean under constant drive is summed as a series [-]."""


@kernel
def factors(modes: "Modes", memo: Array, h: float) -> int:
    """Number of the slot of ``memo`` with the factors for a step of ``h`` [s], filled if need be.

    RISE is the rise of the heated place after one step of one watt into each heat input [K/W]; in a
    passive network no other node rises more.
    """
    number = int(h * 1e9) % MEMO_SLOTS
    slot = memo[number]
    if slot[LENGTH, 0] == h:
        return number
    slot[LENGTH, 0], slot[LENGTH, 1] = h, np.nan
    count = modes.rate.shape[0]
    for i in range(count):
        x = modes.rate[i] * h
        fallen = -np.expm1(-x)
        slot[DECAY, i] = np.exp(-x)
        slot[CHARGE, i] = fallen / modes.rate[i] if x > 0.0 else h
        slot[MEAN_HOLD, i] = fallen / x if x > 0.0 else 1.0
        slot[MEAN_CHARGE, i] = h * _mean_charge(x, fallen)
    for u in range(modes.felt.shape[0]):
        rise = modes.felt[u, count + u]
        for i in range(count):
            rise += modes.felt[u, i] * modes.drive[u, i] * slot[CHARGE, i]
        slot[RISE, u] = rise
    return number


@kernel
def grades(modes: "Modes", slot: Array) -> int:
    """Number of the GRADED rows of a slot, filled if need be."""
    if slot[LENGTH, 1] >= 0.0:
        return int(slot[LENGTH, 1])
    h, fastest, count = slot[LENGTH, 0], 0.0, 0
    for i in range(modes.rate.shape[0]):
        fastest = max(fastest, modes.rate[i])
    while count < MOST_GRADES and fastest * h * 0.25**count > YOUNG:
        for i in range(modes.rate.shape[0]):
            slot[GRADED + count, i] = np.exp(-modes.rate[i] * h * 0.25 ** (count + 1))
        count += 1
    slot[LENGTH, 1] = count
    return count


@kernel
def _mean_charge(x: float, fallen: float) -> float:
    """(x - (1 - e^-x)) / x^2, as a series where the difference would cancel."""
    if x > SHORT:
        return (x - fallen) / (x * x)
    term, total = 0.5, 0.5
    for k in range(3, 13):
        term *= -x / k
        total += term
    return total
