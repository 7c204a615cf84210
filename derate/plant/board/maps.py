"""The board seen from above: temperatures, and where a thermistor would tell most."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.board.answers import factors
from derate.plant.board.full import SENSOR_SIDE_M
from derate.plant.board.grid import Grid, middles
from derate.plant.board.layout import Layout, layout_of
from derate.plant.board.lumped import LumpedBoard, lumped_board
from derate.plant.board.shapes import distance_m
from derate.plant.rest import Rest, Resting

Array = NDArray[np.float64]

EDGE_M = 1.5e-3
"""A thermistor's middle keeps at least this distance from the board's edge and its holes [m]."""


@dataclass(frozen=True, eq=False)
class BoardMap:
    """``temperature_c`` (rows, columns) of the top of the board, nan beside it [degC].

    ``x_m`` and ``y_m``: middles of the columns and rows [m].
    """

    x_m: Array
    y_m: Array
    temperature_c: Array


@dataclass(frozen=True, eq=False)
class SensorMap:
    """What a thermistor would miss of the hottest junction at each place (rows, columns).

    nan where none can sit: in and near pads, holes, the edge. ``offset_k``: how far the place is
    below the hottest junction at rest [K]. ``lag_s``: mean delay of the place's answer to heat that
    is switched on, less that of the junction, with what the board is mounted on held at its
    temperature [s]; it is the delay behind a slow ramp of the heat. ``channel_offset_k`` and
    ``channel_lag_s``: the same with one channel alone, by its own hottest junction. ``advised_m``:
    the place whose largest offset is least, all together or a channel alone.
    """

    x_m: Array
    y_m: Array
    offset_k: Array
    lag_s: Array
    channel_offset_k: dict[str, Array]
    channel_lag_s: dict[str, Array]
    advised_m: tuple[float, float]
    advised_offset_k: float
    advised_lag_s: float


def board_map(lamp: Lamp, node_c: Mapping[str, float]) -> BoardMap:
    """The temperature of the board's top from those of its nodes, by name [degC].

    Where copper covers more than half of a cell, that of the copper.
    """
    board = lumped_board(lamp)
    grid = board.full.grid
    cells = _top(board)
    felt = board.shape[cells] @ np.array([node_c[name] for name in board.names])
    return BoardMap(middles(grid.x_m), middles(grid.y_m), np.where(cells >= 0, felt, np.nan).T)


def sensor_map(resting: Resting, rest: Rest) -> SensorMap | None:
    """Offset and lag of every place for a thermistor, as the channels are lit at ``rest``.

    None where nothing is lit or no place is left. With T the steady rise above what is held, the
    mean delay of a place is (G^-1 C T) / T: the first moment of its step answer. Those of places
    are solved for in all cells of the board, those of junctions, which are as exact, in the small
    network. The lag of a thermistor's own body comes on top.
    """
    board = resting.assembly.board
    assert board is not None
    cells = _numbers(board, 0)
    free = _free(layout_of(resting.lamp), board.full.grid) & (cells >= 0)
    heat_w = _of_channels(resting, rest)
    if not heat_w or not free.any():
        return None
    rise_k, moment_k_s = (
        {name: np.where(free, each[cells], np.nan) for name, each in part.items()}
        for part in _answers(board, {name: _into(board, resting, w) for name, w in heat_w.items()})
    )
    offset_k, lag_s = {}, {}
    for name, each_w in heat_w.items():
        junction_k, delay_s = _hottest(resting, each_w)
        offset_k[name] = junction_k - rise_k[name]
        lag_s[name] = moment_k_s[name] / rise_k[name] - delay_s
    _, delay_s = _hottest(resting, _sum(heat_w))
    together_s = _sum(moment_k_s) / _sum(rise_k) - delay_s
    first, groups = resting.first_junction, len(resting.assembly.groups)
    place_c = board.shape[cells] @ rest.node_c[_rows(resting, board)]
    together_k = rest.node_c[first : first + groups].max() - np.where(free, place_c, np.nan)
    best = np.unravel_index(
        np.nanargmin(np.max([together_k, *offset_k.values()], axis=0)), together_k.shape
    )
    x_m, y_m = middles(board.full.grid.x_m), middles(board.full.grid.y_m)
    return SensorMap(
        x_m=x_m,
        y_m=y_m,
        offset_k=together_k.T,
        lag_s=together_s.T,
        channel_offset_k={name: each.T for name, each in offset_k.items()},
        channel_lag_s={name: each.T for name, each in lag_s.items()},
        advised_m=(float(x_m[best[0]]), float(y_m[best[1]])),
        advised_offset_k=float(together_k[best]),
        advised_lag_s=float(together_s[best]),
    )


def _sum(parts: dict[str, Array]) -> Array:
    return np.asarray(np.sum(list(parts.values()), axis=0))


def _of_channels(resting: Resting, rest: Rest) -> dict[str, Array]:
    """Heat of all junction groups from each channel that is lit [W]."""
    groups = resting.assembly.groups
    channel = np.array([group.channel for group in groups])
    heat_w = rest.heat_w[: len(groups)]
    found = {
        name: np.where(channel == number, heat_w, 0.0)
        for number, name in enumerate(resting.lamp.channels)
    }
    return {name: each_w for name, each_w in found.items() if each_w.max() > 0.0}


def _into(board: LumpedBoard, resting: Resting, heat_w: Array) -> Array:
    """Heat of the junction groups on the board as it enters the cells [W]."""
    heat = np.zeros(len(board.full.cells))
    for group, each_w in zip(resting.assembly.groups, heat_w, strict=True):
        if group.node in board.full.heat:
            heat += each_w * board.full.heat[group.node]
    return heat


def _answers(
    board: LumpedBoard, heat_w: dict[str, Array]
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Steady rise [K] of all cells, and its product with their mean delay [K s]."""
    full = board.full
    solve = factors(full.conductance_w_per_k(board.exchange_w_per_m2_k)).solve
    rise_k = {name: solve(each) for name, each in heat_w.items()}
    moment_k_s = {name: solve(full.capacitance_j_per_k * each) for name, each in rise_k.items()}
    return rise_k, moment_k_s


def _hottest(resting: Resting, heat_w: Array) -> tuple[float, float]:
    """Steady rise [K] and mean delay [s] of the hottest junction, the lamp file's nodes held."""
    network, held = resting.network, len(resting.lamp.nodes)
    conductance = network.conductance_w_per_k[held:, held:]
    rise_k = np.linalg.solve(conductance, network.inject[held:, : len(heat_w)] @ heat_w)
    moment_k_s = np.linalg.solve(conductance, network.capacitance_j_per_k[held:, held:] @ rise_k)
    first = resting.first_junction - held
    hottest = first + int(np.argmax(rise_k[first : first + len(heat_w)]))
    return float(rise_k[hottest]), float(moment_k_s[hottest] / rise_k[hottest])


def _rows(resting: Resting, board: LumpedBoard) -> NDArray[np.int64]:
    """Where the board's nodes stand in the network."""
    return np.array([resting.network.index(name) for name in board.names], dtype=np.int64)


def _numbers(board: LumpedBoard, sheet: int) -> NDArray[np.int64]:
    """Number of the cell of a sheet in each column and row, -1 where there is none."""
    grid, cells = board.full.grid, board.full.cells
    found = np.full((len(grid.x_m) - 1, len(grid.y_m) - 1), -1, dtype=np.int64)
    mine = np.flatnonzero(cells[:, 2] == sheet)
    found[cells[mine, 0], cells[mine, 1]] = mine
    return found


def _top(board: LumpedBoard) -> NDArray[np.int64]:
    """The uppermost cells: copper where it covers more than half of a cell, else the core."""
    cells = _numbers(board, 0)
    for sheet, name in enumerate(board.full.sheets):
        if name.startswith("copper"):
            copper = _numbers(board, sheet)
            area_m2 = board.full.faces_m2["front"][copper]
            covered = (copper >= 0) & (area_m2 > 0.5 * board.full.grid.cell_m2)
            cells = np.where(covered, copper, cells)
    return cells


def _free(layout: Layout, grid: Grid) -> NDArray[np.bool_]:
    """Where a thermistor may sit (columns, rows), as far as pads, holes and edges go."""
    x_m, y_m = np.meshgrid(middles(grid.x_m), middles(grid.y_m), indexing="ij")
    free = np.ones(x_m.shape, dtype=bool)
    for corners in (layout.outline, *layout.holes):
        free &= distance_m(corners, x_m, y_m) >= EDGE_M
    for pad in layout.pads.values():
        beside_m = np.abs(x_m - pad.copper.x_m) - pad.copper.width_m / 2
        above_m = np.abs(y_m - pad.copper.y_m) - pad.copper.height_m / 2
        free &= np.maximum(beside_m, above_m) >= SENSOR_SIDE_M / 2
    return free
