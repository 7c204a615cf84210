"""How much may be driven at each ambient, and which limit says so."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.study.crossing import crossing
from derate.study.operating import Operating

Array = NDArray[np.float64]

COLDEST_C, HOTTEST_C = 0.0, 300.0
"""Ambients of a derating curve reach from the colder of this and the point's to where nothing is
permitted, at most this far [degC]; emitters are not made for more."""
STEP_C = 2.5
EXACT_C, EXACT_SHARE = 1e-4, 1e-6
"""Ambients [degC] and commands are found to within this."""


@dataclass(frozen=True, eq=False)
class Derating:
    """The derating curve over ``ambient_c`` (n) [degC].

    ``permitted`` (n): largest common duty 0..1 at which every limit holds, times ``mix`` per
    channel (1 for all unless the requests differ); 0 where even darkness does not hold.
    ``light_lm`` (n) [lm]: light of the lamp there. ``acting`` (n): what stops it, the name of a
    node, "runaway", "over 1000 degC", or "" where full drive is permitted. ``full_until_c`` [degC]:
    highest ambient of full drive, ``dark_from_c`` [degC]: lowest at which nothing is permitted; nan
    where outside the grid. ``here``: permitted at the ambient of the point, with ``here_lm`` [lm]
    and ``here_acting``.
    """

    mix: dict[str, float]
    ambient_c: Array
    permitted: Array
    light_lm: Array
    acting: tuple[str, ...]
    full_until_c: float
    dark_from_c: float
    here: float
    here_lm: float
    here_acting: str


def derating(lamp: Operating, ambient_c: float) -> Derating:
    """The derating curve of a lamp, and what is permitted at ``ambient_c`` [degC]."""
    low_c = min(COLDEST_C, ambient_c)
    dark = crossing(lambda at_c: lamp.margin_k(0.0, at_c), low_c, HOTTEST_C, exact=EXACT_C)
    end_c = dark[0] if dark else HOTTEST_C
    full = crossing(lambda at_c: lamp.margin_k(1.0, at_c), low_c, HOTTEST_C, exact=EXACT_C)
    grid_c = raster(low_c, end_c, STEP_C, [full[0]] if full else [])
    found = [permitted(lamp, at_c) for at_c in grid_c]
    lights_lm = [
        light_lm(lamp, share, at_c) for (share, _), at_c in zip(found, grid_c, strict=True)
    ]
    here = permitted(lamp, ambient_c)
    return Derating(
        dict(zip(lamp.lamp.channels, lamp.mix.tolist(), strict=True)),
        np.array(grid_c),
        np.array([share for share, _ in found]),
        np.array(lights_lm),
        tuple(acting for _, acting in found),
        full[0] if full else np.nan,
        dark[0] if dark else np.nan,
        here[0],
        light_lm(lamp, here[0], ambient_c),
        here[1],
    )


def raster(low: float, high: float, step: float, more: Iterable[float]) -> list[float]:
    """Both ends, the whole multiples of ``step`` between them, and ``more``; rising."""
    whole = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return sorted({low, high, *whole.tolist(), *more})


def permitted(lamp: Operating, ambient_c: float) -> tuple[float, str]:
    """The largest command 0..1 at which every limit holds, and what stops more of it."""
    if lamp.margin_k(1.0, ambient_c) >= 0.0:
        return 1.0, ""
    found = crossing(lambda share: lamp.margin_k(share, ambient_c), 0.0, 1.0, exact=EXACT_SHARE)
    if found is None:
        return 0.0, lamp.acting(0.0, ambient_c)
    return found[0], lamp.acting(found[1], ambient_c)


def light_lm(lamp: Operating, share: float, ambient_c: float) -> float:
    """Light of all channels [lm]."""
    return float(lamp.at(share, ambient_c).light_lm.sum())
