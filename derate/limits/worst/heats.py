"""How much heat full duty can mean: the most and the least, at any temperature of a junction.

Heat is in proportion to duty under PWM. In current dimming it grows faster, as an LED is the less
efficient the more current it carries: then ``shares`` says which part of the heat of full duty a
duty gives at most, and the least is looked for over all duties. Of a channel whose branches share
its current each is also taken as the hottest of them with all others cold, as it then carries most,
and the other way round.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import END, FIRST, Emission, dark, emit

Array = NDArray[np.float64]

STEP_K: Final = 2.0
"""Between temperatures at which heat is looked at; what it does in between is added."""
DUTIES: Final = 16
"""Duties that are looked at in current dimming."""


class Heats(NamedTuple):
    """Of C channels and U heat inputs: ``most_w`` (C, U) at any duty; ``least_w`` (C, U) of full
    duty, less in proportion to it; ``free_w`` (U): what may come without any, from bypass switches
    [W]; no duty of ``duties`` (D), nor any below, gives more than ``shares`` (D) of the most."""

    most_w: Array
    least_w: Array
    free_w: Array
    duties: Array
    shares: Array


def heats_of(emission: Emission, inputs: int, low_c: float, high_c: float) -> Heats:
    """The heats of an emission while its junctions are from ``low_c`` to ``high_c`` [degC].

    ``inputs``: how many heat inputs the network has.
    """
    bare = emission._replace(bypass_ohm=0.0, switching_w=0.0)
    channels = len(emission.channel)
    at_c = np.linspace(low_c, high_c, 2 + int((high_c - low_c) / STEP_K))
    duties = np.array([1.0]) if emission.pwm else np.linspace(1.0 / DUTIES, 1.0, DUTIES)
    most_w = np.zeros((len(duties), channels, inputs))
    least_w = np.full((channels, inputs), np.inf)
    for c in range(channels):
        for d, duty in enumerate(duties):
            for pattern in _patterns(emission, c, at_c):
                found = np.array([_heat_w(bare, inputs, c, duty, row) for row in pattern])
                beside = 0.5 * np.abs(np.diff(found, axis=0, prepend=found[:1])).max(axis=0)
                most_w[d, c] = np.maximum(most_w[d, c], found.max(axis=0) + beside)
                least = np.maximum(found.min(axis=0) - beside, 0.0) / duty
                least_w[c] = np.minimum(least_w[c], least)
    full_w = most_w.max(axis=0)
    heated = full_w > 0.0
    shares = np.array([np.max(each[heated] / full_w[heated]) for each in most_w])
    shares = np.maximum.accumulate(shares)  # less duty may be asked for
    bulge = 0.5 * max(0.0, -float(np.diff(np.append(0.0, shares), 2).min(initial=0.0)))
    full_w, shares = full_w * (1.0 + bulge), (shares + bulge) / (1.0 + bulge)
    free_w = np.zeros(inputs)
    if emission.bypass_input >= 0 or emission.bypass_ohm > 0.0:
        full_a = emission.channel[:, 0]
        switches_w = float((full_a**2 * emission.bypass_ohm + emission.switching_w).sum())
        if emission.bypass_input >= 0:
            free_w[emission.bypass_input] = switches_w
        if emission.loss_input >= 0:
            free_w[emission.loss_input] = switches_w * (emission.supply_per_load - 1.0)
    return Heats(full_w, least_w, free_w, np.append(0.0, duties), np.append(0.0, shares))


def _patterns(emission: Emission, c: int, at_c: Array) -> list[Array]:
    """Junction temperatures (rows, G) at which channel ``c`` is looked at [degC]."""
    groups = len(emission.group)
    alike = np.repeat(at_c[:, None], groups, axis=1)
    first, end = emission.channel_of[c, FIRST], emission.channel_of[c, END]
    if end - first == 1:
        return [alike]
    found = [alike]
    for b in range(first, end):
        own = slice(emission.branch_of[b, FIRST], emission.branch_of[b, END])
        for others_c, own_c in ((at_c[0], at_c), (at_c[-1], at_c), (at_c, at_c[0]),
                                (at_c, at_c[-1])):  # fmt: skip
            pattern = np.empty_like(alike)
            pattern[:] = np.reshape(others_c, (-1, 1))
            pattern[:, own] = np.reshape(own_c, (-1, 1))
            found.append(pattern)
    return found


def _heat_w(emission: Emission, inputs: int, c: int, duty: float, junction_c: Array) -> Array:
    """All heat inputs [W] with channel ``c`` alone at ``duty``."""
    channels = len(emission.channel)
    duties = np.zeros(channels)
    duties[c] = duty
    heat_w, output = np.zeros(inputs), np.zeros((3, channels))
    emit(emission, dark(emission), junction_c, duties, duties, heat_w, output)
    return heat_w
