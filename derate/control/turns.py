"""Channels that give up light one after the other: which is when due."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp

Array = NDArray[np.float64]
Duties = Callable[[float], Array]
Turns = list[list[int]]
"""Indices of channels; those of one entry give together, the first entry first."""


def in_turn(requests: Array, turns: Turns) -> Duties:
    """Duties (C) against a share 0..1 of all turns: the first turn's channels go dark first."""

    def duties(share: float) -> Array:
        found, left = requests.copy(), share * len(turns)
        for kept, channels in enumerate(reversed(turns)):
            found[channels] *= min(max(left - kept, 0.0), 1.0)
        return found

    return duties


def hottest_first(left_k: Array, requests: Array) -> Turns:
    """Lit channels by how far their junctions are below the limit, ``left_k`` (C) [K]."""
    lit = np.flatnonzero(requests > 0.0).tolist()
    return [[index] for index in sorted(lit, key=lambda index: left_k[index])]


def least_first(lamp: Lamp, requests: Array) -> Turns:
    """Lit channels by their priority, the least first; none unless all say it and it differs."""
    lit = [index for index in range(len(requests)) if requests[index] > 0.0]
    channels = list(lamp.channels.values())
    said = {index: channels[index].priority for index in lit}
    levels = {level for level in said.values() if level is not None}
    if len(levels) < 2 or None in said.values():
        return []
    return [[index for index in lit if said[index] == level] for level in sorted(levels)]
