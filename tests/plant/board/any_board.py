"""Boards of any kind for properties that hold for all of them."""

import numpy as np
from hypothesis import strategies as st

from derate.plant.board.layout import Layout, Pad
from derate.plant.board.shapes import Rectangle, circle_corners, rectangle_corners
from derate.plant.board.stack import Slab, Stack
from tests.plant.board.invented_board import copper


@st.composite
def slabs(draw, thinnest_m=3e-4, thickest_m=3e-3):
    """A layer of any material."""
    along = draw(st.floats(0.2, 400.0))
    across = along * draw(st.floats(0.2, 1.0))
    return Slab(draw(st.floats(thinnest_m, thickest_m)), along, across, draw(st.floats(1e6, 4e6)))


@st.composite
def boards(draw):
    """Any board of a few hundred cells: layers, outline, hole, pads, faces."""
    width_m, height_m = draw(st.floats(0.01, 0.04)), draw(st.floats(0.01, 0.04))
    pads = {}
    for number in range(draw(st.integers(1, 3))):
        at = (width_m * draw(st.floats(0.2, 0.8)), height_m * draw(st.floats(0.2, 0.8)))
        pad = [length * draw(st.floats(0.1, 0.35)) for length in (width_m, height_m)]
        foot = [length * draw(st.floats(0.3, 1.0)) for length in pad]
        shapes = Rectangle(*at, *pad), Rectangle(*at, *foot)
        pads[f"solder.main.{number + 1}"] = Pad(*shapes, draw(st.booleans()))
    mounted = draw(st.booleans())
    exchange = {"front": draw(st.floats(2.0, 200.0))}
    exchange["interface" if mounted else "back"] = draw(st.floats(2.0, 5e4 if mounted else 200.0))
    stack = Stack(
        copper=copper(draw(st.floats(18e-6, 3e-4))),
        core=draw(slabs()),
        dielectric=draw(st.one_of(st.none(), slabs(2e-5, 2e-4))),
        bottom_copper=draw(st.one_of(st.none(), slabs(2e-5, 3e-4))),
        vias_w_per_m_k=draw(st.sampled_from([0.0, 5.0])),
        slices=draw(st.integers(1, 3)),
        exchange_w_per_m2_k=exchange,
    )
    corner = circle_corners(0.08 * width_m, 0.08 * height_m, 0.1 * min(width_m, height_m))
    holes = (corner,) if draw(st.booleans()) else ()
    outline = rectangle_corners(width_m, height_m)
    if draw(st.booleans()):
        outline = np.insert(outline, 3, (0.9 * width_m, height_m), axis=0)
        outline[2] = (width_m, 0.9 * height_m)
    places = {"place.ntc": (0.5 * width_m, 0.88 * height_m)}
    return stack, Layout(outline, max(width_m, height_m) / 12, holes, pads, places)
