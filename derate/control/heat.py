"""What full drive heats: the heat that a channel's duty adds, by heat input.

An LED heats more as its junction warms, since less of the power leaves as light; with current
dimming heat falls faster than the current. The most is the heat of full drive at that junction
temperature, from 25 degC to the limit, at which it is largest.
"""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp

if TYPE_CHECKING:
    from derate.plant.network import Assembly

Array = NDArray[np.float64]

COLD_C = 25.0
TEMPERATURES = 6
"""Junction temperatures looked at, from COLD_C to the limit."""
DUTIES = np.linspace(0.1, 1.0, 10)
"""Duties looked at, the full one last."""


class FullHeat(NamedTuple):
    """``most_w`` (U, C): most heat of full drive by heat input and channel [W]; ``short`` (C): by
    how much the heat of any duty may lie below that duty's share of the most, as a share of it."""

    most_w: Array
    short: Array


def full_heat(lamp: Lamp, assembly: "Assembly") -> FullHeat:
    """What the duty of each channel adds while all others are fully driven."""
    channels, groups = list(lamp.channels.values()), assembly.groups
    limit_c = np.array([channels[group.channel].junction_limit_c for group in groups])
    at_c = np.linspace(np.full(len(limit_c), COLD_C), limit_c, TEMPERATURES)
    most_w, short = [], []
    for c in range(len(channels)):
        added_w = _added_w(lamp, assembly, c, at_c)
        own = [group.channel == c for group in groups]
        own_w = added_w[..., : len(groups)][..., own].sum(axis=-1)
        most_w.append(added_w[:, -1].max(axis=0))
        short.append(np.max(DUTIES - own_w / own_w[:, -1].max()))
    return FullHeat(np.transpose(most_w), np.array(short))


def _added_w(lamp: Lamp, assembly: "Assembly", channel: int, at_c: Array) -> Array:
    """Heat of a channel's duty [W], by temperature, duty and heat input."""
    from derate.plant.emission import dark, emission_of, emit

    emission = emission_of(lamp, assembly.branches, assembly.groups)
    full, output = np.ones(len(lamp.channels)), np.zeros((3, len(lamp.channels)))

    def heat_w(duty: float, junction_c: Array) -> Array:
        duties, found = full.copy(), np.zeros(len(assembly.heated))
        duties[channel] = duty
        emit(emission, dark(emission), junction_c, duties, full, found, output)
        return found

    return np.array([[heat_w(duty, c) - heat_w(0.0, c) for duty in DUTIES] for c in at_c])
