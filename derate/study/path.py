"""The way of the heat from a junction to the ambient, step by step."""

from dataclasses import dataclass

import numpy as np

from derate.plant.rest import Rest
from derate.study.operating import Operating


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

    ``ambient``: where it ends; ``rise_k`` [K]: junction above that ambient.
    """

    channel: str
    ambient: str
    rise_k: float
    steps: tuple[Step, ...]


def paths(lamp: Operating, rest: Rest) -> tuple[HeatPath, ...]:
    """The path of every lit channel's hottest junction."""
    return tuple(
        _path(lamp, rest, name, node)
        for (name, node), duty in zip(lamp.hottest(rest).items(), rest.duties, strict=True)
        if duty > 0.0
    )


def _path(lamp: Operating, rest: Rest, channel: str, junction: int) -> HeatPath:
    """Along the strongest flow from node to node, always downhill, so that it comes to an end."""
    network, node_c = lamp.resting.network, rest.node_c
    steps, at = [], junction
    while True:
        flow_w = -network.conductance_w_per_k[at] * (node_c[at] - node_c)
        out_w = network.ambient_w_per_k[at] * (node_c[at] - rest.ambient_c)
        strongest, away = int(np.argmax(flow_w)), int(np.argmax(out_w))
        if out_w[away] >= flow_w[strongest]:
            end = lamp.lamp.ambients[away]
            drop_k = float(node_c[at] - rest.ambient_c[away])
            steps.append(
                Step(lamp.names[at], end, _what(lamp, at, end), float(out_w[away]), drop_k)
            )
            return HeatPath(
                channel, end, float(node_c[junction] - rest.ambient_c[away]), tuple(steps)
            )
        end, drop_k = lamp.names[strongest], float(node_c[at] - node_c[strongest])
        steps.append(
            Step(lamp.names[at], end, _what(lamp, at, end), float(flow_w[strongest]), drop_k)
        )
        at = strongest


def _what(lamp: Operating, at: int, end: str) -> str:
    """What lies between a node and another, in words."""
    start = lamp.names[at]
    if start.startswith("junction."):
        return "junction to solder"
    links = [link for link in lamp.lamp.links if set(link.between) == {start, end}]
    named = [link.name for link in links if link.name]
    if named:
        return ("link " if len(named) == 1 else "links ") + " and ".join(named)
    return "link" if links else ""
