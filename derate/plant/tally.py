"""What adds up over a run: peaks, times above limits, light and energies."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Tally(NamedTuple):
    """Running totals since the reset.

    ``clock_s`` (1) time; per node ``peak_c`` [degC], ``peak_at_s``, ``above_s`` (time above its
    limit), a junction's with the crest of the PWM ripple; per channel ``light_lm_s`` and
    ``asked_lm_s`` (light at the requested duty at the same junction temperature); ``electrical_j``
    (1), drawn from the supply by the driver; ``heat_j`` per heat input but the surfaces', which
    only correct what leaves; ``ambient_j`` per ambient, heat that really left into it. Stored heat
    and what has left into ambients add up to ``heat_j``.
    """

    clock_s: Array
    peak_c: Array
    peak_at_s: Array
    above_s: Array
    light_lm_s: Array
    asked_lm_s: Array
    electrical_j: Array
    heat_j: Array
    ambient_j: Array


def empty(start_c: Array, channels: int, inputs: int, ambients: int) -> Tally:
    """A tally that begins at the node temperatures ``start_c`` [degC]."""
    nodes = len(start_c)
    return Tally(
        clock_s=np.zeros(1),
        peak_c=start_c.copy(),
        peak_at_s=np.zeros(nodes),
        above_s=np.zeros(nodes),
        light_lm_s=np.zeros(channels),
        asked_lm_s=np.zeros(channels),
        electrical_j=np.zeros(1),
        heat_j=np.zeros(inputs),
        ambient_j=np.zeros(ambients),
    )
