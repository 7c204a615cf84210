"""The whole board as cells of finite volume: heat capacities, conductances, areas that shed heat.

    C dT/dt = -(sum of conduction) T - (sum of u_f diag(face_f)) (T - T_f) + (sum of P_k heat_k)

with T the temperatures of M cells [degC], u_f [W/(m^2 K)] the exchange of a face with its partner
of temperature T_f, and P_k [W] the heat into a kept node. In the dielectric heat flows straight
down: what it spreads sideways there, about its own thickness, is left out, and so are the heat of
vias and the laminate they displace.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.board import MOST_CELLS
from derate.lamp.lamp import Lamp
from derate.lamp.outline import mm
from derate.plant.board.grid import Grid, middles
from derate.plant.board.layout import Layout, layout_of
from derate.plant.board.shapes import Rectangle, boundary_length, rectangles_area
from derate.plant.board.sheets import Areas, Laying, Sheet, areas_of
from derate.plant.board.stack import Slab, Stack, stack_of

Array = NDArray[np.float64]

SENSOR_SIDE_M = 1e-3
"""A sensor feels the mean of the board's top over a square of this side [m]: a chip's body."""


@dataclass(frozen=True, eq=False)
class FullBoard:
    """M cells.

    ``capacitance_j_per_k`` (M); ``conduction_w_per_k``: layer and direction -> (M, M), rows sum
    to zero; each is the derivative of their sum by the logarithm of that one conductivity;
    ``faces_m2``: face -> area of each cell (M), "front", either "interface" or "back", and "edge",
    which counts to front and back as well where these shed heat;
    ``heat``: kept node -> share of its heat that enters each cell (M), which also weighs the cells
    in its temperature; ``sheets``: names from the top; ``cells`` (M, 3): column, row and sheet.
    """

    grid: Grid
    capacitance_j_per_k: Array
    conduction_w_per_k: dict[str, sparse.csr_array]
    faces_m2: dict[str, Array]
    heat: dict[str, Array]
    sheets: tuple[str, ...]
    cells: NDArray[np.int64]

    @property
    def x_m(self) -> Array:
        """Position of the middle of each cell across [m]."""
        return middles(self.grid.x_m)[self.cells[:, 0]]

    @property
    def y_m(self) -> Array:
        """Position of the middle of each cell upwards [m]."""
        return middles(self.grid.y_m)[self.cells[:, 1]]

    def conductance_w_per_k(self, exchange_w_per_m2_k: dict[str, float]) -> sparse.csc_array:
        """All conduction, and each named face's exchange with its partner on the diagonal."""
        shed = np.zeros(len(self.cells))
        for name, each_w_per_m2_k in exchange_w_per_m2_k.items():
            shed += each_w_per_m2_k * self.faces_m2[name]
        whole = sparse.csc_array(sparse.diags_array(shed))
        for conduction in self.conduction_w_per_k.values():
            whole = whole + conduction
        return whole


def full_board(lamp: Lamp) -> FullBoard:
    """The cells of the board of ``lamp``.

    Raises InputError where a kept node lies outside it, and where narrow cells at the edges of pads
    and footprints make too many of them.
    """
    layout = layout_of(lamp)
    grid = layout.grid()
    columns, rows = len(grid.x_m) - 1, len(grid.y_m) - 1
    if columns * rows > MOST_CELLS:
        narrow_m = min(pad.footprint.narrow_m for pad in layout.pads.values())
        raise InputError(
            f"board.cell: found {columns} by {rows} cells, which follow the edges of"
            f" {len(layout.pads)} pads and their footprints of {mm(narrow_m)} at least, due at most"
            f" {MOST_CELLS}: wider cells or footprints, or pads in rows and columns"
        )
    return cells_of(stack_of(lamp), layout)


def cells_of(stack: Stack, layout: Layout) -> FullBoard:
    """The cells of a board of these layers and this layout."""
    laying = Laying(layout.grid())
    board = areas_of(layout.board_area, laying.grid)
    core = _lay_core(laying, stack, layout, board)
    copper = _lay_copper(laying, stack, layout, core[0])
    shares = _shares_of(stack.slices)
    top = [core[0], *copper.values()]
    heat = {
        "board": [(sheet, part * sheet.area_m2) for sheet, part in zip(core, shares, strict=True)]
    }
    heat |= {
        node: [(copper[pad.on_core], _mean_over(pad.footprint, copper[pad.on_core], laying.grid))]
        for node, pad in layout.pads.items()
    }
    heat |= {node: _felt(at, top, laying.grid) for node, at in layout.places.items()}
    bottom = "interface" if "interface" in stack.exchange_w_per_m2_k else "back"
    faces = {"front": _exposed(top), bottom: [(core[-1], core[-1].area_m2)]}
    edge_m2 = stack.core.thickness_m * boundary_length(
        layout.outline, laying.grid.x_m, laying.grid.y_m
    )
    edge = [(sheet, part * edge_m2) for sheet, part in zip(core, shares, strict=True)]
    faces["edge"] = edge
    for face, share in stack.edges.items():
        faces[face] = [*faces[face], *((sheet, share * area_m2) for sheet, area_m2 in edge)]
    return FullBoard(
        grid=laying.grid,
        capacitance_j_per_k=laying.spread(_stored(stack, core, copper)),
        conduction_w_per_k=laying.matrices(),
        faces_m2={name: laying.spread(parts) for name, parts in faces.items()},
        heat={node: _of_one_watt(node, laying.spread(parts)) for node, parts in heat.items()},
        sheets=tuple(sheet.name for sheet in laying.sheets),
        cells=laying.cells(),
    )


def _shares_of(slices: int) -> Array:
    """The part of the core's thickness that each of its sheets stands for."""
    shares = np.full(slices + 1, 1.0 / slices)
    shares[[0, -1]] /= 2
    return shares


def _covered(rectangles: list[Rectangle], grid: Grid) -> Array:
    return rectangles_area(rectangles, grid.x_m, grid.y_m)


def _lay_core(laying: Laying, stack: Stack, layout: Layout, board: Areas) -> list[Sheet]:
    """The sheets of the core from the top, with what vias add under the pads.

    The lowest holds the bottom copper as well and stands for its lower face.
    """
    slab, bottom = stack.core, stack.bottom_copper
    sheets = [laying.sheet(f"core {level}", board) for level in range(stack.slices + 1)]
    for sheet, part in zip(sheets, _shares_of(stack.slices), strict=True):
        laying.along("core along", sheet, part * slab.thickness_m * slab.along_w_per_m_k)
    if bottom:
        sheet_w_per_k = bottom.thickness_m * bottom.along_w_per_m_k
        laying.along("bottom copper along", sheets[-1], sheet_w_per_k)
    pads_m2 = np.minimum(
        _covered([pad.copper for pad in layout.pads.values()], laying.grid), board.cell_m2
    )
    plain = {"core across": slab.across_w_per_m_k * stack.slices / slab.thickness_m}
    holed = plain | {"vias": stack.vias_w_per_m_k * stack.slices / slab.thickness_m}
    for one, other in itertools.pairwise(sheets):
        below = [{"bottom copper across": 1.0 / bottom.across_m2_k_per_w}] if bottom else []
        below = below if other is sheets[-1] else []
        if stack.vias_w_per_m_k:
            laying.across([plain, *below], one, other, board.cell_m2 - pads_m2)
            laying.across([holed, *below], one, other, pads_m2)
        else:
            laying.across([plain, *below], one, other, board.cell_m2)
    return sheets


def _lay_copper(laying: Laying, stack: Stack, layout: Layout, core: Sheet) -> dict[bool, Sheet]:
    """The copper of pads that stand on the core (True) and on the dielectric (False)."""
    sheets = {}
    slab = stack.copper
    for on_core in (False, True):
        if all(pad.on_core != on_core for pad in layout.pads.values()):
            continue
        areas = layout.copper_areas(on_core, laying.grid, core.areas)
        sheet = laying.sheet("copper on core" if on_core else "copper", areas)
        laying.along("copper along", sheet, slab.thickness_m * slab.along_w_per_m_k)
        layers = [{"copper across": 1.0 / slab.across_m2_k_per_w}]
        if stack.dielectric and not on_core:
            layers.append({"dielectric": 1.0 / stack.dielectric.across_m2_k_per_w})
        laying.across(layers, sheet, core, sheet.area_m2)
        sheets[on_core] = sheet
    return sheets


Parts = list[tuple[Sheet, Array]]


def _stored(stack: Stack, core: list[Sheet], copper: dict[bool, Sheet]) -> Parts:
    """Heat capacity of the cells; the dielectric's belongs half to the sheets on either side."""

    def of(slab: Slab, area_m2: Array) -> Array:
        return slab.heat_j_per_m3_k * slab.thickness_m * area_m2

    parts = [
        (sheet, part * of(stack.core, sheet.area_m2))
        for sheet, part in zip(core, _shares_of(stack.slices), strict=True)
    ]
    parts += [(sheet, of(stack.copper, sheet.area_m2)) for sheet in copper.values()]
    if stack.bottom_copper:
        parts.append((core[-1], of(stack.bottom_copper, core[-1].area_m2)))
    if stack.dielectric:
        bare_m2 = core[0].area_m2
        for on_core, sheet in copper.items():
            bare_m2 = bare_m2 - (1.0 if on_core else 0.5) * sheet.area_m2
        parts.append((core[0], of(stack.dielectric, np.maximum(bare_m2, 0.0))))
        if False in copper:
            parts.append((copper[False], 0.5 * of(stack.dielectric, copper[False].area_m2)))
    return parts


def _mean_over(footprint: Rectangle, copper: Sheet, grid: Grid) -> Array:
    """Weights of the copper's cells in its mean temperature below a footprint.

    Cells know the temperature T in their middle; its mean over a cell of width d is

        T + d^2/24 d^2T/dx^2 + the same along y,

    with the second derivative from the neighbours there are. This takes off most of what the
    steps of the heat at the footprint's edges would cost otherwise.
    """
    weight = _covered([footprint], grid)
    for axis, lines in enumerate((grid.x_m, grid.y_m)):
        along, there = np.moveaxis(weight, axis, 0), np.moveaxis(copper.number >= 0, axis, 0)
        moment = along * np.diff(lines)[:, None]
        apart_m = np.diff(middles(lines))[:, None]
        passed = (there[1:] & there[:-1]) * (moment[:-1] - moment[1:]) / (24.0 * apart_m)
        along[1:] += passed
        along[:-1] -= passed
    return weight


def _exposed(top: list[Sheet]) -> Parts:
    """The area that the core and the copper on it show to the front."""
    core, *copper = top
    bare_m2 = core.area_m2 - sum((sheet.area_m2 for sheet in copper), np.zeros_like(core.area_m2))
    return [(core, np.maximum(bare_m2, 0.0)), *((sheet, sheet.area_m2) for sheet in copper)]


def _felt(at: tuple[float, float], top: list[Sheet], grid: Grid) -> Parts:
    """What a sensor at a position feels: the top of the board in a small square around it."""
    share = _covered([Rectangle(*at, SENSOR_SIDE_M, SENSOR_SIDE_M)], grid) / grid.cell_m2
    return [(sheet, share * area_m2) for sheet, area_m2 in _exposed(top)]


def _of_one_watt(node: str, weight: Array) -> Array:
    total = float(weight.sum())
    if not total > 0.0:
        raise InputError(f"board: found {node} outside it, due a position on the board")
    return weight / total
