"""Sentences about emitters that were driven where their tables do not reach."""

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.channel import branches_of, groups_of

Array = NDArray[np.float64]

SLACK = 1e-9
"""A current within this of the table's end is on it [-]: branches sum to the channel's current."""


def outside_tables(lamp: Lamp, seen_c: Array, seen_a: Array) -> set[str]:
    """One sentence for each channel and table that was left.

    ``seen_c`` (2, groups) [degC], ``seen_a`` (2, branches) [A]: least and largest values while lit.
    """
    branches = branches_of(lamp)
    group_channel = np.array([group.channel for group in groups_of(branches)])
    branch_channel = np.array([branch.channel for branch in branches])
    said = set()
    for i, (name, channel) in enumerate(lamp.channels.items()):
        emitter = lamp.emitters[channel.emitter]
        low_c, high_c = emitter.junction_c[0], emitter.junction_c[-1]
        coldest, hottest = _extremes(seen_c, group_channel == i)
        if coldest < low_c or hottest > high_c:
            far = hottest if hottest > high_c else coldest
            said.add(
                f"channel {name}: a junction reached {far:.1f} degC, outside the table of emitter "
                f"{channel.emitter} ({low_c:g} to {high_c:g} degC); its light is extrapolated"
            )
        low_a, high_a = emitter.current_a[0], emitter.current_a[-1]
        least, largest = _extremes(seen_a, branch_channel == i)
        if least < low_a * (1 - SLACK) or largest > high_a * (1 + SLACK):
            far = largest if largest > high_a else least
            said.add(
                f"channel {name}: an emitter carried {far:.3g} A, outside the table of emitter "
                f"{channel.emitter} ({low_a:g} to {high_a:g} A); voltage and light are extrapolated"
            )
    return said


def _extremes(seen: Array, mine: NDArray[np.bool_]) -> tuple[float, float]:
    return float(seen[0, mine].min()), float(seen[1, mine].max())
