"""The colour of a lamp at rest: of each channel and of the mix, beside what is asked."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.plant.rest import Rest
from derate.study.mix import asked_xyz, coloured, emitter_of, mixed_xyz
from derate.study.operating import Operating
from derate.study.tristimulus import distance, uv_of, xy_of, xyz_per_lumen
from derate.study.white import White, white_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Colour:
    """One light: CIE 1931 ``xy``, CIE 1976 ``uv``, and the ``white`` it is, None if it is none."""

    xy: tuple[float, float]
    uv: tuple[float, float]
    white: White | None


@dataclass(frozen=True)
class ColourPoint:
    """Colours at rest: ``channels`` that are lit, by name, at their hottest junctions.

    ``asked``: the mix that the request would give with every emitter at its reference junction
    temperature; ``mix``: what there is; ``shift``: their distance, delta u'v' [-].
    """

    channels: dict[str, Colour]
    asked: Colour
    mix: Colour
    shift: float


class Palette:
    """The colours of the lit channels of a lamp, and the mix that is asked of them."""

    def __init__(self, lamp: Operating) -> None:
        self._lamp = lamp
        self.names = [name for name, asked in lamp.requests.items() if asked > 0.0]
        asked = {name: np.array(lamp.requests[name]) for name in self.names}
        self.asked = asked_xyz(lamp.lamp, asked)

    def per_lumen(self, rest: Rest) -> dict[str, Array]:
        """X, Y, Z (3) of each lit channel per lumen at its hottest junction."""
        hot = self._lamp.hottest(rest)
        return {
            name: xyz_per_lumen(emitter_of(self._lamp.lamp, name), rest.node_c[hot[name]])
            for name in self.names
        }

    def mix(self, rest: Rest) -> Array:
        """X, Y, Z (3) [lm] of all lit channels."""
        lamp, hot = self._lamp.lamp, self._lamp.hottest(rest)
        light_lm = dict(zip(lamp.channels, rest.light_lm, strict=True))
        return mixed_xyz(
            lamp,
            {name: np.array(light_lm[name]) for name in self.names},
            {name: rest.node_c[hot[name]] for name in self.names},
        )

    def shift(self, rest: Rest) -> float:
        """Distance of the mix from what is asked, delta u'v' [-]; nan in the dark."""
        return float(distance(uv_of(self.mix(rest)), uv_of(self.asked)))


def palette_of(lamp: Operating) -> Palette | None:
    """The colours of a lamp; None unless every channel that is asked for has one."""
    names = [name for name, asked in lamp.requests.items() if asked > 0.0]
    return Palette(lamp) if coloured(lamp.lamp, names) else None


def colour_point(lamp: Operating, rest: Rest) -> ColourPoint | None:
    """The colours of a lamp at rest; None where they are not known, or there is no rest."""
    palette = palette_of(lamp)
    if palette is None or rest.runaway:
        return None
    channels = {name: _colour(xyz) for name, xyz in palette.per_lumen(rest).items()}
    mix = palette.mix(rest)
    return ColourPoint(channels, _colour(palette.asked), _colour(mix), palette.shift(rest))


def _colour(xyz: Array) -> Colour:
    (x, y), uv = xy_of(xyz), uv_of(xyz)
    return Colour((float(x), float(y)), (float(uv[0]), float(uv[1])), white_of(uv))
