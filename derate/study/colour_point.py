"""The colour of a lamp at rest: of each channel and of the mix, beside what is asked."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.plant.palette import palette_of
from derate.plant.rest import Rest
from derate.plant.tristimulus import uv_of, xy_of
from derate.study.operating import Operating
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


def colour_point(lamp: Operating, rest: Rest) -> ColourPoint | None:
    """The colours of a lamp at rest; None where they are not known, or there is no rest."""
    palette = palette_of(lamp.resting, lamp.requests)
    if palette is None or rest.runaway:
        return None
    channels = {name: _colour(xyz) for name, xyz in palette.per_lumen(rest).items()}
    mix = palette.mix(rest)
    return ColourPoint(channels, _colour(palette.asked), _colour(mix), palette.shift(rest))


def _colour(xyz: Array) -> Colour:
    (x, y), uv = xy_of(xyz), uv_of(xyz)
    return Colour((float(x), float(y)), (float(uv[0]), float(uv[1])), white_of(uv))
