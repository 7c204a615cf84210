"""The colours of the lit channels of a lamp at rest, and of their mix beside what is asked."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from derate.plant.mix import asked_xyz, coloured, emitter_of, mixed_xyz
from derate.plant.rest import Rest, Resting
from derate.plant.tristimulus import distance, uv_of, xyz_per_lumen

Array = NDArray[np.float64]


class Palette:
    """The colours of the lit channels of a lamp, and the mix that is asked of them.

    ``names``: of the channels whose request is above 0; ``asked`` (3): X, Y, Z [lm] of the mix that
    the requests would give with every emitter at its reference junction temperature.
    """

    def __init__(self, lamp: Resting, requests: Mapping[str, float]) -> None:
        self._lamp = lamp
        self.names = [name for name, asked in requests.items() if asked > 0.0]
        asked = {name: np.array(requests[name]) for name in self.names}
        self.asked = asked_xyz(lamp.lamp, asked)

    def per_lumen(self, rest: Rest) -> dict[str, Array]:
        """X, Y, Z (3) of each lit channel per lumen at its hottest junction."""
        return {
            name: xyz_per_lumen(emitter_of(self._lamp.lamp, name), self._junction_c(rest, name))
            for name in self.names
        }

    def mix(self, rest: Rest) -> Array:
        """X, Y, Z (3) [lm] of all lit channels."""
        lamp = self._lamp.lamp
        light_lm = dict(zip(lamp.channels, rest.light_lm, strict=True))
        return mixed_xyz(
            lamp,
            {name: np.array(light_lm[name]) for name in self.names},
            {name: self._junction_c(rest, name) for name in self.names},
        )

    def shift(self, rest: Rest) -> float:
        """Distance of the mix from what is asked, delta u'v' [-]; nan in the dark."""
        return float(distance(uv_of(self.mix(rest)), uv_of(self.asked)))

    def _junction_c(self, rest: Rest, name: str) -> Array:
        nodes = self._lamp.junctions[name]
        return np.asarray(rest.node_c[nodes[np.argmax(rest.peak_c[nodes])]])


def palette_of(lamp: Resting, requests: Mapping[str, float]) -> Palette | None:
    """The colours of a lamp; None unless every channel that is asked for has one."""
    names = [name for name, asked in requests.items() if asked > 0.0]
    return Palette(lamp, requests) if coloured(lamp.lamp, names) else None
