"""What the batch clock goes through: intervals, how each begins, and what acts in it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

STUCK = 3
"""State of a sensor that keeps its code, beside those of its wires."""


class Acting(NamedTuple):
    """What acts in an interval, one row each: W rows, C channels, M ambients, S sensors.

    ``ambient_c`` (W, M) at mid-interval; ``airflow`` (W, 1); ``configuration`` (W): of the links;
    ``requests_q15`` (W, C): what the firmware was told last; ``asked_q15`` (W, C): the requests in
    force, as commands take effect; ``request`` (W): the largest now [0..1]; ``stuck_on`` (W, C);
    ``wires`` and ``offset_k`` (W, S): the sensors' faults.
    """

    ambient_c: Array
    airflow: Array
    configuration: Whole
    requests_q15: Whole
    asked_q15: Whole
    request: Array
    stuck_on: NDArray[np.bool_]
    wires: Whole
    offset_k: Array


class Schedule(NamedTuple):
    """K intervals: ``dt_s`` (K) long, row ``row`` (K) of ``acting`` in force.

    At the beginning of each, in this order, ``effect`` (K): what is commanded takes effect;
    ``convert``: the ADC converts; ``control``: the controller runs. ``still`` (K): whether no input
    has changed since the control tick before; ``phase`` (K): of the PWM at the beginning [0..1).
    """

    dt_s: Array
    row: Whole
    effect: NDArray[np.bool_]
    convert: NDArray[np.bool_]
    control: NDArray[np.bool_]
    still: NDArray[np.bool_]
    phase: Array
    acting: Acting
