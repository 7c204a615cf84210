"""The board as a small network: what the plant puts into its own.

    C dT/dt = -(sum of conduction + sum of u_f matrix_f) T + sum of u_f weight_f T_f + P

with T the temperatures of n nodes [degC], P [W] the heat into each of them, and for each face f
its exchange u_f [W/(m^2 K)] with a partner of temperature T_f. C and the matrices are full and
symmetric; rows of the conduction matrices sum to zero, rows of matrix_f to weight_f, and weight_f
to area_f. Elements off the diagonal may have either sign.
"""

import functools
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg as dense
import scipy.sparse as sparse
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.plant.board.faces import Face, elsewhere, even, faces_of
from derate.plant.board.full import FullBoard, full_board
from derate.plant.board.pieces import demand_ways_out
from derate.plant.board.problem import Problem
from derate.plant.board.reduce import Reduction, patterns_of
from derate.plant.board.stack import base_m2_k_per_w, stack_of

Array = NDArray[np.float64]

SOLVED = ((0.25, 0.01), (4.0, 0.1), (1.0, 1e-3))
"""Factors on the exchange of front and back, and of the interface, at which answers are solved for
beside those of the reference, as many as it takes."""
STEPPED = ((0.25, 0.1), (4.0, 0.003))
"""Such factors at which step answers are judged."""
JUDGED = ((1.0, 0.3), (1.0, 0.1), (1.0, 0.03), (1.0, 0.01), (1.0, 1e-3),
          (0.25, 1.0), (0.5, 1.0), (2.0, 1.0), (4.0, 1.0), (0.25, 0.03), (4.0, 0.03))  # fmt: skip
"""Those at which rises are."""
SAMPLED = 100
"""Cells looked at for each node that is a cell."""
ALIKE = 1e-9
"""Kept nodes whose shares of heat differ less than this [-] are one node."""


@dataclass(frozen=True, eq=False)
class LumpedBoard:
    """n nodes; ``names``: "board", "solder.*" and "place.*" first, then "board.1", ...

    Heat into a kept node, all but the last, enters there alone; the others are temperatures of
    single cells, at ``points_m`` (n, 2), which is nan for kept nodes. ``same``: kept node -> the
    node it is one with, where two emitters stand on the same spot; it has no row of its own.
    ``faces``: those of ``full``, whether they exchange heat or not.
    ``shape`` (M, n): temperatures of the cells of ``full`` are ``shape @ T``.
    ``exchange_w_per_m2_k``: of the faces, where steady rises are those of the cells;
    ``base_m2_k_per_w``: what the plate below the interface adds to the resistance of that.
    """

    names: tuple[str, ...]
    same: dict[str, str]
    capacitance_j_per_k: Array
    conduction_w_per_k: dict[str, Array]
    faces: dict[str, Face]
    error: Reduction
    shape: Array
    points_m: Array
    full: FullBoard
    exchange_w_per_m2_k: dict[str, float]
    base_m2_k_per_w: float = 0.0

    def index(self, node: str) -> int:
        """Row of a node, also of one that is the same as another."""
        return self.names.index(self.same.get(node, node))


def lumped_board(lamp: Lamp, *, at_rest: bool = False) -> LumpedBoard:
    """The small network of the board of ``lamp``, made once for each board.

    ``at_rest``: only its steady state will be asked for, its interface as it is, which takes a
    third of the time.
    """
    return _lumped(_Key(lamp), at_rest)


class _Key:
    """A lamp seen by what its board depends on."""

    def __init__(self, lamp: Lamp) -> None:
        self.lamp = lamp
        told = lamp.model_dump(mode="json", include={"board", "materials"})
        told["channels"] = {
            name: channel.model_dump(mode="json", include={"emitter", "pad_m", "pad_on"})
            for name, channel in lamp.channels.items()
        }
        told["footprints"] = {name: part.footprint_m for name, part in lamp.emitters.items()}
        told["places"] = lamp.places()
        self.text = json.dumps(told)

    def __hash__(self) -> int:
        return hash(self.text)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self.text == other.text


@functools.lru_cache(maxsize=4)
def _lumped(key: _Key, at_rest: bool) -> LumpedBoard:
    lamp = key.lamp
    assert lamp.board is not None
    exchange = stack_of(lamp).exchange_w_per_m2_k
    accuracy = None if at_rest else lamp.board.accuracy
    full = full_board(lamp)
    demand_ways_out(lamp, full)
    lumped = lump(full, exchange, accuracy)
    return replace(lumped, base_m2_k_per_w=base_m2_k_per_w(lamp))


def lump(
    full: FullBoard, exchange_w_per_m2_k: Mapping[str, float], accuracy: float | None
) -> LumpedBoard:
    """The small network of a board of cells, exact at rest with this exchange of its faces."""
    kept, same = distinct(full.heat)
    exchange = dict(exchange_w_per_m2_k)
    problem = _problem(full, kept, exchange)
    if accuracy is None:
        problem = replace(
            problem,
            solved=elsewhere(exchange, _as_mounted(SOLVED)),
            between=elsewhere(exchange, _as_mounted(JUDGED)),
        )
    patterns, error = patterns_of(problem, accuracy)
    patterns /= problem.uniform[:, None]
    heat = np.column_stack([full.heat[name] for name in kept])
    nodes = heat.T @ patterns
    cells = _telling_cells(patterns, nodes)
    shape = patterns @ dense.inv(np.vstack((nodes, patterns[cells])))
    points = np.full((len(kept) + len(cells), 2), np.nan)
    points[len(kept) :] = np.column_stack((full.x_m[cells], full.y_m[cells]))
    conduction = {
        name: conducting(matrix, shape) for name, matrix in full.conduction_w_per_k.items()
    }
    faces = faces_of(full, shape, conduction, exchange, len(kept))
    return LumpedBoard(
        names=(*kept, *(f"board.{number + 1}" for number in range(len(cells)))),
        same=same,
        capacitance_j_per_k=even(shape.T @ (full.capacitance_j_per_k[:, None] * shape)),
        conduction_w_per_k=conduction,
        faces=faces,
        error=error,
        shape=shape,
        points_m=points,
        full=full,
        exchange_w_per_m2_k=exchange,
    )


def distinct(heat: Mapping[str, Array]) -> tuple[list[str], dict[str, str]]:
    """The nodes to keep, and which others are the same as one of them.

    ``heat``: the share of each node's heat that enters each cell. Raises InputError where these
    shares depend on each other, so that cells cannot tell the nodes apart.
    """
    kept: list[str] = []
    same = {}
    for name, share in heat.items():
        twin = next((other for other in kept if np.abs(heat[other] - share).sum() < ALIKE), None)
        if twin is None:
            kept.append(name)
        else:
            same[name] = twin
    scaled = np.column_stack([heat[name] / np.linalg.norm(heat[name]) for name in kept])
    if dense.svdvals(scaled)[-1] < ALIKE:
        raise InputError(
            "board.cell: found cells too wide to tell the emitters and sensors apart,"
            " due cells smaller than a footprint"
        )
    return kept, same


def _problem(full: FullBoard, kept: list[str], exchange: dict[str, float]) -> Problem:
    inputs = [full.heat[name] for name in kept]
    inputs += [full.faces_m2[name] / full.faces_m2[name].sum() for name in exchange]
    channels: dict[str, list[int]] = {}
    for number, name in enumerate(kept):
        if name.startswith("solder."):
            channels.setdefault(name.split(".")[1], []).append(number)
    root = np.sqrt(full.capacitance_j_per_k)
    scale = sparse.diags_array(1.0 / root)
    return Problem(
        uniform=root,
        conduction=sparse.csc_array(scale @ full.conductance_w_per_k({}) @ scale),
        shed={name: full.faces_m2[name] / full.capacitance_j_per_k for name in exchange},
        inputs=np.column_stack(inputs) / root[:, None],
        spots=len(kept) - 1,
        heated=tuple(
            i for i in range(len(inputs)) if i >= len(kept) or not kept[i].startswith("place.")
        ),
        groups=tuple(tuple(numbers) for numbers in channels.values()),
        reference=exchange,
        solved=elsewhere(exchange, SOLVED),
        elsewhere=elsewhere(exchange, STEPPED),
        between=elsewhere(exchange, JUDGED),
    )


def _as_mounted(factors: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The same for front and back, with the interface as it is."""
    return [(face, 1.0) for face, _ in factors]


def _telling_cells(patterns: Array, nodes: Array) -> NDArray[np.int64]:
    """The cells whose temperatures, with those of the kept nodes, tell the patterns best; looked
    for among a sample of all cells."""
    wanted = patterns.shape[1] - len(nodes)
    cells = len(patterns)
    sample = np.unique(np.linspace(0, cells - 1, min(cells, SAMPLED * wanted)).astype(np.int64))
    unseen = patterns[sample] @ dense.null_space(nodes)
    order = dense.qr(unseen.T, mode="r", pivoting=True)[1]
    return np.sort(sample[order[:wanted]])


def conducting(matrix: sparse.csr_array, shape: Array) -> Array:
    """A conduction matrix of the cells (M, M) as the nodes see it, rounding taken out: symmetric,
    rows sum to zero."""
    linked = np.flatnonzero(np.diff(matrix.indptr))
    mutual = even(shape[linked].T @ (matrix[linked] @ shape))
    return mutual - np.diag(mutual.sum(axis=1))
