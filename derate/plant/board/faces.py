"""The faces of the small network of a board: what they exchange, and how unevenly warm they get."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
from numpy.typing import NDArray

from derate.plant.board.full import FullBoard
from derate.plant.surface.uneven import Uneven, uneven_of

Array = NDArray[np.float64]

SHED = ((0.25, 1.0), (4.0, 1.0))
"""Factors as in ``elsewhere`` at which it matters how front and back are unevenly warm."""
FLAT = 1e-3
"""A pattern on a face counts where the exchange of it changes rises by this share [-]."""


@dataclass(frozen=True, eq=False)
class Face:
    """A face of the board and its exchange of one W/(m^2 K) with a partner outside.

    ``area_m2``; ``matrix_m2`` (n, n): conductance among the nodes; ``weight_m2`` (n): conductance
    from each node to the partner; ``uneven``: how its temperature varies over it, if it is the
    front or the back.
    """

    area_m2: float
    matrix_m2: Array
    weight_m2: Array
    uneven: Uneven


def faces_of(
    full: FullBoard,
    shape: Array,
    conduction: Mapping[str, Array],
    exchange: Mapping[str, float],
    kept: int,
) -> dict[str, Face]:
    """The faces; their patterns are those of heat in each of the ``kept`` nodes."""
    matrices = {name: seen(area_m2, shape) for name, area_m2 in full.faces_m2.items()}
    inside = np.sum(list(conduction.values()), axis=0)
    unit = np.eye(len(inside))[:, :kept]
    found = []
    for each in (exchange, *elsewhere(exchange, SHED)):
        shed = np.sum([u * matrices[name] for name, u in each.items()], axis=0)
        found.append(dense.solve(inside + shed, unit, assume_a="pos"))
    warm = np.hstack(found)
    rise = warm[:kept, :kept]
    own = np.diag(rise - rise[0] - rise[:, :1] + rise[0, 0]).copy()
    own[0] = rise[0, 0]
    scale = np.tile(np.sqrt(own), warm.shape[1] // kept)
    faces = {}
    for name, area_m2 in full.faces_m2.items():
        shed = exchange.get(name, 0.0) * area_m2.sum() if name in ("front", "back") else 0.0
        uneven = uneven_of(area_m2, shape, np.sqrt(shed) / scale * warm, FLAT)
        matrix = matrices[name]
        faces[name] = Face(float(area_m2.sum()), matrix, matrix.sum(axis=1), uneven)
    return faces


def seen(area_m2: Array, shape: Array) -> Array:
    """The areas of cells as the nodes see them."""
    there = np.flatnonzero(area_m2)
    return even(shape[there].T @ (area_m2[there, None] * shape[there]))


def elsewhere(
    exchange: Mapping[str, float], factors: Sequence[tuple[float, float]]
) -> tuple[dict[str, float], ...]:
    """Exchanges of the faces: that of front and back, that of the interface times a factor."""
    found = [
        {name: each * factor[name == "interface"] for name, each in exchange.items()}
        for factor in factors
    ]
    return tuple(one for i, one in enumerate(found) if one != exchange and one not in found[:i])


def even(matrix: Array) -> Array:
    """Rounding taken out: symmetric."""
    return 0.5 * (matrix + matrix.T)
