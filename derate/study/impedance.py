"""Thermal impedances of each channel's hottest junction, from its own heat."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Impedance:
    """Rise per watt [K/W] over ``time_s`` (n) [s] of one watt more in every emitter of the channel.

    Of the hottest junction above ambient (``ambient_k_per_w``), above its solder node
    (``solder_k_per_w``), and above each of ``to`` (name -> (n,) [K/W]), the board or the sensors'
    nodes. Surfaces are taken at the conductance they have at the point.
    """

    channel: str
    time_s: Array
    solder_k_per_w: Array
    ambient_k_per_w: Array
    to: dict[str, Array]
