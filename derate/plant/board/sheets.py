"""Sheets of cells and the links between them, laid one by one.

Neighbouring cells of a sheet of conductivity k and thickness t exchange k t A / d^2 watt per
kelvin, with d the distance of their middles [m] and A [m^2] the part of the rectangle between the
two middle lines that the sheet covers. Heat across a layer flows through the area that two sheets
share.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from derate.plant.board.grid import Grid, middles

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

LEAST_COVERED = 1e-6
"""A cell covered to a smaller share [-] is no cell: it would hold next to no heat."""


class Areas(NamedTuple):
    """What a shape covers of each cell, and of each rectangle between the middle lines of two
    cells side by side (columns - 1, rows) and one above the other (columns, rows - 1) [m^2]."""

    cell_m2: Array
    beside_m2: Array
    above_m2: Array


def areas_of(area: Callable[[Array, Array], Array], grid: Grid) -> Areas:
    """The areas of a shape, from ``area``, which gives those between any lines x and y."""
    x, y = grid.x_m, grid.y_m
    return Areas(area(x, y), area(middles(x), y), area(x, middles(y)))


@dataclass(frozen=True, eq=False)
class Sheet:
    """A sheet of cells: its areas and the numbers of its cells, -1 where there is none."""

    name: str
    areas: Areas
    number: Numbers

    @property
    def area_m2(self) -> Array:
        """Area of each cell [m^2]."""
        return np.where(self.number >= 0, self.areas.cell_m2, 0.0)


class Laying:
    """A board under construction."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.size = 0
        self.sheets: list[Sheet] = []
        self._links: dict[str, list[tuple[Numbers, Numbers, Array]]] = {}

    def sheet(self, name: str, areas: Areas) -> Sheet:
        """A new sheet, its cells numbered on."""
        there = areas.cell_m2 > LEAST_COVERED * self.grid.cell_m2
        number = np.where(there, self.size + np.cumsum(there).reshape(there.shape) - 1, -1)
        self.size += int(there.sum())
        self.sheets.append(Sheet(name, areas, number))
        return self.sheets[-1]

    def along(self, key: str, sheet: Sheet, sheet_w_per_k: float) -> None:
        """Heat flow within a sheet of ``sheet_w_per_k``, conductivity times thickness [W/K]."""
        apart_m = np.diff(middles(self.grid.x_m))[:, None], np.diff(middles(self.grid.y_m))
        number, areas = sheet.number, sheet.areas
        beside = sheet_w_per_k / apart_m[0] ** 2 * areas.beside_m2
        above = sheet_w_per_k / apart_m[1] ** 2 * areas.above_m2
        self._link(key, number[:-1], number[1:], beside)
        self._link(key, number[:, :-1], number[:, 1:], above)

    def across(
        self, layers: Sequence[Mapping[str, float]], one: Sheet, other: Sheet, area_m2: Array
    ) -> None:
        """Heat flow between two sheets through layers in series, each of ways side by side.

        A way is a key and its W/(m^2 K). Its part of the conductance g is g^2 / layer^2 times its
        own, the derivative of g by the logarithm of its conductivity; the parts add up to g.
        """
        together = [sum(ways.values()) for ways in layers]
        through = 1.0 / sum(1.0 / each for each in together)
        for ways, whole in zip(layers, together, strict=True):
            for key, each in ways.items():
                part = (through / whole) ** 2 * each
                self._link(key, one.number, other.number, part * area_m2)

    def _link(self, key: str, one: Numbers, other: Numbers, conductance_w_per_k: Array) -> None:
        both = (one >= 0) & (other >= 0) & (conductance_w_per_k > 0)
        triple = (one[both], other[both], conductance_w_per_k[both])
        self._links.setdefault(key, []).append(triple)

    def spread(self, parts: list[tuple[Sheet, Array]]) -> Array:
        """What is given sheet by sheet (columns, rows) as one vector over all cells."""
        whole = np.zeros(self.size)
        for sheet, values in parts:
            there = sheet.number >= 0
            whole[sheet.number[there]] += values[there]
        return whole

    def matrices(self) -> dict[str, sparse.csr_array]:
        """For each key the matrix of its links; rows sum to zero."""
        return {key: self._matrix(links) for key, links in self._links.items()}

    def _matrix(self, links: list[tuple[Numbers, Numbers, Array]]) -> sparse.csr_array:
        one, other, each = (np.concatenate(part) for part in zip(*links, strict=True))
        rows = np.concatenate((one, other, one, other))
        columns = np.concatenate((one, other, other, one))
        values = np.concatenate((each, each, -each, -each))
        return sparse.csr_array(
            sparse.coo_array((values, (rows, columns)), shape=(self.size, self.size))
        )

    def cells(self) -> Numbers:
        """Column, row and sheet of each cell (M, 3)."""
        found = np.empty((self.size, 3), dtype=np.int64)
        for level, sheet in enumerate(self.sheets):
            column, row = np.nonzero(sheet.number >= 0)
            found[sheet.number[column, row]] = np.column_stack(
                (column, row, np.full(len(row), level))
            )
        return found
