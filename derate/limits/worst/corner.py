"""The unit of a lamp for which a bound is highest, as far as one part at a time tells.

Each part that varies is moved to both its limits, and the bound is computed again with the prices
that it had: that is its derivative, since prices are optimal. What belongs to the reading goes to
the end that reads colder; in the bound the whole error band counts anyhow. That all parts together
are worst at these ends is common practice, and not proved: a bound that depends on a part in no
one direction may be higher in between.
"""

import dataclasses
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.variation import Variation, variations
from derate.lamp.varying import OF_PROFILE
from derate.limits.worst.bound import Bound, Watched, with_prices
from derate.limits.worst.linear import linear_of
from derate.loop.units import Draws, draw, unit_lamp
from derate.sensing.chain import Chain

Array = NDArray[np.float64]

NO_MOVE_K: Final = 1e-6
"""A part that moves the bound by less does not matter [K]."""


READINGS: Final = 40
"""Temperatures, a kelvin apart, at which readings are compared: one alone falls on one code."""


class Corner(NamedTuple):
    """A unit, ``lamp``, with the parts of ``moved`` at their ends: key -> value in its unit."""

    lamp: Lamp
    moved: dict[str, float]


def corner_for(found: Watched, bound: Bound, *, of_reading: bool = False) -> Corner:
    """The corner of a bound; its lamp is the nominal one where no part varies.

    ``of_reading``: with what the reading hangs on alone, all other parts nominal.
    """
    lamp = found.lamp
    some = [one for one in variations(lamp) if not _of_profile(one)]
    some = [one for one in some if _of_reading(one) or not of_reading]
    if not some:
        return Corner(lamp, {})
    draws = draw(lamp, [0], 0)
    ends: dict[str, float] = {}
    for one in some:
        sides = [
            {limits.key: getattr(limits, side) for limits in one.keys} for side in ("low", "high")
        ]
        scores = [_score(found, bound, _unit(lamp, draws, side), one) for side in sides]
        if max(scores) - min(scores) > NO_MOVE_K:
            ends |= sides[int(np.argmax(scores))]
    return Corner(_unit(lamp, draws, ends), ends)


def _of_profile(one: Variation) -> bool:
    return any(limits.key in OF_PROFILE for limits in one.keys)


def _of_reading(one: Variation) -> bool:
    return all(key.split(".")[0] == "sensors" and ".deviation." in key for key in _keys(one))


def _keys(one: Variation) -> list[str]:
    return [limits.key for limits in one.keys]


def _score(found: Watched, bound: Bound, unit: Lamp, one: Variation) -> float:
    """How bad a unit is [K]."""
    if _of_reading(one):
        return -_reads_c(unit, found.law.reading_c[0])
    linear = linear_of(unit, found.linear.span, found.linear.cap_c, found.linear.board)
    return with_prices(dataclasses.replace(found, linear=linear), bound.node, bound).at_c


def _reads_c(unit: Lamp, begin_c: float) -> float:
    """What a unit reads on the mean over temperatures where its policy begins to act [degC]."""
    chains = [Chain(unit, name) for name in unit.sensors]
    return float(np.mean([
        max(chain.reading_c(chain.sense(begin_c + step, tick=step)) for chain in chains)
        for step in range(READINGS)
    ]))  # fmt: skip


def _unit(lamp: Lamp, draws: Draws, ends: dict[str, float]) -> Lamp:
    """The unit whose parts are at some ends, all others nominal."""
    nominal = {limits.key: limits.nominal for one in variations(lamp) for limits in one.keys}
    values = np.array([[(nominal | ends)[key] for key in draws.keys]])
    return unit_lamp(lamp, dataclasses.replace(draws, values=values), 0)
