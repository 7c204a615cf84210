"""What one emitter gives at any current and junction temperature, as tables over both."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.curve import value
from derate.plant.emission import (
    BRANCHES,
    COUNT,
    END,
    FIRST,
    FULL_A,
    KIND,
    OFFSET_V,
    PARALLEL,
    REFERENCE_C,
    SLOPE,
    Emission,
)
from derate.plant.emitter import (
    LUMINOUS,
    LUMINOUS_RATIO,
    RADIANT,
    RADIANT_RATIO,
    VOLTAGE,
    voltage_v,
)

Array = NDArray[np.float64]


class Glow(NamedTuple):
    """Tables (currents, temperatures) of one emitter: heat, electrical power [W] and light [lm]."""

    heat_w: Array
    power_w: Array
    light_lm: Array


@dataclass(frozen=True)
class Branch:
    """A kind of branch: its groups (indices) with their emitters, and how many there are of it."""

    count: float
    offset_v: float
    groups: tuple[int, ...]
    emitters: tuple[float, ...]


class Channel(NamedTuple):
    """A channel: its emitter's number, full current [A], branches in parallel, their kinds."""

    kind: int
    full_a: float
    parallel: float
    branches: tuple[Branch, ...]

    @property
    def shares(self) -> bool:
        """Whether the current of a branch depends on temperatures."""
        return len(self.branches) > 1


def channels_of(emission: Emission) -> tuple[Channel, ...]:
    """The channels of an emission with their branches and groups."""
    found = []
    for c, row in enumerate(emission.channel_of):
        branches = []
        for b in range(row[FIRST], row[END]):
            groups = range(emission.branch_of[b, FIRST], emission.branch_of[b, END])
            emitters = tuple(float(emission.group[g, COUNT]) for g in groups)
            count, offset_v = emission.branch[b, BRANCHES], emission.branch[b, OFFSET_V]
            branches.append(Branch(float(count), float(offset_v), tuple(groups), emitters))
        full_a, parallel = emission.channel[c, FULL_A], emission.channel[c, PARALLEL]
        found.append(Channel(int(row[KIND]), float(full_a), float(parallel), tuple(branches)))
    return tuple(found)


def glow_of(
    emission: Emission, kind: int, offset_v: float, current_a: Array, junction_c: Array
) -> Glow:
    """What an emitter of a kind gives, as ``derate.plant.emission`` computes it.

        power = max(0, I V(I, T)),    heat = max(0, power - radiant),    light = luminous(I, T)

    ``current_a`` (I) [A], none below 0; ``junction_c`` (K) [degC].
    """
    curves = emission.curves[kind]
    at_a = np.maximum(current_a, 1e-12)
    volts = np.array([voltage_v(curves[VOLTAGE], ln) for ln in np.log(at_a)]) + offset_v
    watts = np.array([max(0.0, value(curves[RADIANT], a)) for a in at_a])
    lumens = np.array([max(0.0, value(curves[LUMINOUS], a)) for a in at_a])
    radiant = np.array([max(0.0, value(curves[RADIANT_RATIO], c)) for c in junction_c])
    luminous = np.array([max(0.0, value(curves[LUMINOUS_RATIO], c)) for c in junction_c])
    shift_v = emission.emitter[kind, SLOPE] * (junction_c - emission.emitter[kind, REFERENCE_C])
    lit = np.where(current_a > 0.0, 1.0, 0.0)[:, None]
    power_w = lit * np.maximum(0.0, at_a[:, None] * (volts[:, None] + shift_v))
    heat_w = lit * np.maximum(0.0, power_w - np.outer(watts, radiant))
    return Glow(heat_w, power_w, lit * np.outer(lumens, luminous))
