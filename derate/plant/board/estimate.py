"""What spreading costs each emitter on the board, in closed form, to stand beside the 2-D model.

Heat is followed down in two steps. The copper of the pad is a plate that is heated on the footprint
and loses heat downwards through a film; then the heat enters what lies below evenly over a smaller
rectangle, one that would take it through the same film alone. Ways are tried where they exist:

    film = dielectric, then spreading in the core as in a plate;
    film = dielectric and core, then spreading in the bottom copper;
    no film (the pad stands on the core): heat enters the core evenly over a rectangle between
    footprint and pad, whichever is best.

Heat takes the way of least resistance and a way prescribed to it is a worse one, so the least of
them is the estimate, and it errs mostly upwards.
"""

import functools
import math

import numpy as np

from derate.lamp.lamp import Lamp
from derate.plant.board.layout import Layout, Pad, layout_of
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import Medium, rectangle_on_plate
from derate.plant.board.stack import Slab, Stack, stack_of

SHARES = np.linspace(0.0, 1.0, 7)
"""Rectangles that are tried on the core, from the footprint (0) to the pad (1)."""
EVEN_W_PER_M2_K = 1e-3
"""A film so poor that heat leaves a plate evenly."""


def quick_estimate(lamp: Lamp) -> dict[str, float]:
    """Rise [K/W] of each solder node of the board above the mean of the core, heated alone.

    A board that is no rectangle counts as one of its area, holes taken off, and of the proportions
    of its bounds. What other pads and their copper do is left out. The board must have an interface
    or a face that sheds heat, as those of lamp files have.
    """
    stack, layout = stack_of(lamp), layout_of(lamp)
    return {node: min(_ways(stack, layout, pad)) for node, pad in layout.pads.items()}


def _ways(stack: Stack, layout: Layout, pad: Pad) -> list[float]:
    """The rise by each way that there is [K/W]."""
    core, bottom = stack.core, stack.bottom_copper
    film = sum(stack.exchange_w_per_m2_k.values())
    dielectric = stack.dielectric.across_m2_k_per_w if stack.dielectric and not pad.on_core else 0.0
    ways = []

    def within(slab: Slab, share: float) -> float:
        return _spread(slab, film, *_on_plate(layout, _between(pad, share)))

    to_mean = core.across_m2_k_per_w / 2 / _area_m2(layout)
    if dielectric:
        rise, share = _pad_over(stack.copper, pad, dielectric)
        ways.append(rise + within(core, share) + to_mean)
    else:
        ways += [_evenly(stack.copper, pad, s) + within(core, s) + to_mean for s in SHARES]
    if bottom:
        column = core.thickness_m / (core.across_w_per_m_k + stack.vias_w_per_m_k)
        rise, share = _pad_over(stack.copper, pad, dielectric + column)
        ways.append(rise + within(bottom, share) - column / 2 / _area_m2(layout))
    return ways


def _pad_over(copper: Slab, pad: Pad, film_m2_k_per_w: float) -> tuple[float, float]:
    """Rise of the footprint above what lies under a film [K/W], and the share of the pad (0 the
    footprint, 1 all of it) that would take the heat evenly through the film."""
    large, small = pad.copper, pad.footprint
    plate_m = (large.width_m, large.height_m)
    centred = Rectangle(large.width_m / 2, large.height_m / 2, small.width_m, small.height_m)
    rise = _spread(copper, 1 / film_m2_k_per_w, plate_m, centred)
    rise += (copper.across_m2_k_per_w + film_m2_k_per_w) / math.prod(plate_m)
    shares = np.linspace(0.0, 1.0, 101)
    area = [math.prod(_between(pad, share)[2:]) for share in shares]
    return rise, float(np.interp(film_m2_k_per_w / rise, area, shares))


def _evenly(copper: Slab, pad: Pad, share: float) -> float:
    """Rise of the footprint if the copper hands the heat down evenly over a share of the pad."""
    part, foot = _between(pad, share), pad.footprint
    plate_m = (part.width_m, part.height_m)
    centred = Rectangle(part.width_m / 2, part.height_m / 2, foot.width_m, foot.height_m)
    even = copper.across_m2_k_per_w / math.prod(plate_m)
    return even + _spread(copper, EVEN_W_PER_M2_K, plate_m, centred)


def _spread(
    slab: Slab, film_w_per_m2_k: float, plate_m: tuple[float, float], source: Rectangle
) -> float:
    medium = Medium(slab.along_w_per_m_k, slab.across_w_per_m_k, slab.thickness_m, film_w_per_m2_k)
    return rectangle_on_plate(plate_m, source, medium)


def _between(pad: Pad, share: float) -> Rectangle:
    """A rectangle between the footprint (0) and the pad (1)."""
    foot, copper = np.array(pad.footprint), np.array(pad.copper)
    return Rectangle(*map(float, foot + share * (copper - foot)))


@functools.lru_cache(maxsize=1)
def _area_m2(layout: Layout) -> float:
    """Area of the board, holes taken off."""
    least, most = layout.outline.min(axis=0), layout.outline.max(axis=0)
    return float(layout.board_area(*np.column_stack((least, most))).sum())


def _on_plate(layout: Layout, part: Rectangle) -> tuple[tuple[float, float], Rectangle]:
    """The board as a rectangle of its area with a corner in (0, 0), and where a part lies on it."""
    least, most = layout.outline.min(axis=0), layout.outline.max(axis=0)
    scale = math.sqrt(_area_m2(layout) / math.prod(most - least))
    plate = scale * (most - least)
    sides = np.minimum((part.width_m, part.height_m), plate)
    at = np.clip(scale * (np.array((part.x_m, part.y_m)) - least), sides / 2, plate - sides / 2)
    return (float(plate[0]), float(plate[1])), Rectangle(*map(float, (*at, *sides)))
