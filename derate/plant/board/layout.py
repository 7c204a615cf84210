"""Where things lie on the board: outline, holes, pads, footprints and sensors, in plain numbers."""

import functools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.board.grid import Edge, Grid, lines_along
from derate.plant.board.shapes import Point, Rectangle, polygon_area, rectangles_area
from derate.plant.board.sheets import Areas, areas_of

Array = NDArray[np.float64]

ACROSS = 6
"""Cells at the edges of a pad are this part of its footprint's shorter side wide. What that leaves
of the rise of the solder node is measured in tests/plant/board/test_refinement.py."""


@dataclass(frozen=True)
class Pad:
    """Copper under an emitter, and the footprint on it through which the heat comes.

    ``on_core``: stands directly on the core, without the dielectric.
    """

    copper: Rectangle
    footprint: Rectangle
    on_core: bool = False


@dataclass(frozen=True, eq=False)
class Layout:
    """What lies where.

    ``outline`` and ``holes``: corners (n, 2) of polygons [m], each hole within the outline and none
    over another; ``pads``: solder node -> pad;
    ``places``: sensor node -> position [m]. ``cell_m``: the widest cell [m]; ``across``: cells
    across a footprint, were all of them as narrow as those at its edges.
    """

    outline: Array
    cell_m: float
    holes: tuple[Array, ...] = ()
    pads: dict[str, Pad] = field(default_factory=dict)
    places: dict[str, Point] = field(default_factory=dict)
    across: float = ACROSS

    def grid(self) -> Grid:
        """The grid over the board, its lines along the edges of pads and footprints."""
        across, upwards = [], []
        for pad in self.pads.values():
            narrow_m = pad.footprint.narrow_m / self.across
            for shape in (pad.copper, pad.footprint):
                across += [Edge(at_m, narrow_m) for at_m in shape.across_m]
                upwards += [Edge(at_m, narrow_m) for at_m in shape.upwards_m]
        (left, bottom), (right, top) = self.outline.min(axis=0), self.outline.max(axis=0)
        return Grid(
            lines_along((left, right), self.cell_m, across),
            lines_along((bottom, top), self.cell_m, upwards),
        )

    def board_area(self, x_m: Array, y_m: Array) -> Array:
        """Area of the board in each cell between the lines [m^2]."""
        area = polygon_area(self.outline, x_m, y_m)
        for hole in self.holes:
            area -= polygon_area(hole, x_m, y_m)
        return np.maximum(area, 0.0)

    def copper_areas(self, on_core: bool, grid: Grid, board: Areas) -> Areas:
        """Of the pads that stand on the core, or of those on the dielectric, what is on the board,
        whose areas are given."""
        pads = [pad.copper for pad in self.pads.values() if pad.on_core == on_core]
        whole = areas_of(functools.partial(rectangles_area, pads), grid)
        return Areas(*(np.minimum(*each) for each in zip(whole, board, strict=True)))


def layout_of(lamp: Lamp) -> Layout:
    """The layout of the board of ``lamp``."""
    board = lamp.board
    assert board is not None
    pads = {}
    for name, channel in lamp.channels.items():
        footprint_m = lamp.emitters[channel.emitter].footprint_m
        for node, at in zip(lamp.solder_points(name), channel.at or (), strict=False):
            assert channel.pad_m is not None
            assert footprint_m is not None
            on_core = channel.pad_on == "core" or board.dielectric is None
            pads[node] = Pad(Rectangle(*at, *channel.pad_m), Rectangle(*at, *footprint_m), on_core)
    return Layout(
        outline=np.array(board.rim_m),
        cell_m=board.cell_m,
        holes=tuple(np.array(opening) for opening in board.openings_m),
        pads=pads,
        places={
            f"place.{name}": sensor.at
            for name, sensor in lamp.sensors.items()
            if not isinstance(sensor.at, str)
        },
    )
