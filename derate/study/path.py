"""The way of the heat from a junction to the ambient, step by step."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from derate.plant.rest import Rest
from derate.study.operating import Operating
from derate.study.passage import Passage, at_c, passages

LEAST_W = 1e-6
"""A junction of less heat than the sensors' own currents give has no path worth telling [W]."""


@dataclass(frozen=True)
class Step:
    """One step: ``what`` lies between ``start`` and ``end``, the heat through it, its drop.

    ``what`` is in words ("junction to solder", "solder joint", "link interface", "board",
    "surface fins"); ``heat_w`` [W] flows through it with all its parallel links, also that of
    other channels; ``drop_k`` [K].
    """

    start: str
    end: str
    what: str
    heat_w: float
    drop_k: float

    @property
    def resistance_k_per_w(self) -> float:
        """Drop per watt that flows here [K/W]; nan without flow."""
        return self.drop_k / self.heat_w if self.heat_w else float("nan")


@dataclass(frozen=True)
class HeatPath:
    """From the hottest junction of a channel along the strongest flow; the drops sum to its rise.

    ``ambient``: where it ends; ``rise_k`` [K]: junction above that ambient. ``real_k_per_w`` and
    ``electrical_k_per_w`` [K/W]: that rise over the heat, and over the electrical power, of all
    emitters of the lamp, the two conventions of JESD51-51; other heat on the way counts in it.
    """

    channel: str
    ambient: str
    rise_k: float
    steps: tuple[Step, ...]
    real_k_per_w: float = math.nan
    electrical_k_per_w: float = math.nan


def paths(lamp: Operating, rest: Rest) -> tuple[HeatPath, ...]:
    """The path of every channel's hottest junction that gives heat."""
    ways, first = passages(lamp, rest), lamp.resting.first_junction
    return tuple(
        _path(lamp, rest, ways, name, node)
        for name, node in lamp.hottest(rest).items()
        if rest.heat_w[node - first] > LEAST_W
    )


def _path(
    lamp: Operating, rest: Rest, ways: Sequence[Passage], channel: str, junction: int
) -> HeatPath:
    """Along the strongest flow from place to place, always downhill, so that it comes to an end."""
    steps, at = [], lamp.names[junction]
    while at not in lamp.lamp.ambients:
        found = [_together(ways, at, end) for end in {way.end for way in ways if way.start == at}]
        steps.append(max(found, key=lambda step: step.heat_w))
        at = steps[-1].end
    rise_k = float(rest.node_c[junction]) - at_c(lamp, rest, at)
    heat_w = float(rest.heat_w[: len(lamp.resting.assembly.groups)].sum())
    electrical_w = float(rest.electrical_w.sum())
    return HeatPath(channel, at, rise_k, tuple(steps), rise_k / heat_w, rise_k / electrical_w)


def _together(ways: Sequence[Passage], start: str, end: str) -> Step:
    """All passages from one place to another as one step."""
    found = [way for way in ways if (way.start, way.end) == (start, end)]
    what = " and ".join(way.what for way in found)
    return Step(start, end, what, sum(way.heat_w for way in found), found[0].drop_k)
