"""The board of one unit of many, in the nodes of the nominal one.

Units differ in numbers: conductivities, thicknesses, voids. The patterns of the nominal board,
among which are its answers with worse interfaces, serve them too: the cells' equations of the unit
are projected onto these. That is passive and stable as ever, with an error of second order in what
differs, quickly done, and gives units the same nodes, side by side in one batch.
"""

from dataclasses import replace

import numpy as np

from derate.lamp.lamp import Lamp
from derate.plant.board.faces import even, seen
from derate.plant.board.full import FullBoard, full_board
from derate.plant.board.lumped import LumpedBoard, conducting, lumped_board
from derate.plant.board.pieces import demand_ways_out
from derate.plant.board.stack import base_m2_k_per_w, stack_of


def board_like(nominal: LumpedBoard, lamp: Lamp) -> LumpedBoard:
    """The board of ``lamp`` in the nodes of ``nominal``; in its own where it is drawn otherwise."""
    full = full_board(lamp)
    if not _drawn_alike(full, nominal.full):
        return lumped_board(lamp)
    demand_ways_out(lamp, full)
    shape = nominal.shape
    faces = {}
    for name, area_m2 in full.faces_m2.items():
        matrix = seen(area_m2, shape)
        faces[name] = replace(
            nominal.faces[name],
            area_m2=float(area_m2.sum()),
            matrix_m2=matrix,
            weight_m2=matrix.sum(axis=1),
        )
    return replace(
        nominal,
        capacitance_j_per_k=even(shape.T @ (full.capacitance_j_per_k[:, None] * shape)),
        conduction_w_per_k={
            name: conducting(matrix, shape) for name, matrix in full.conduction_w_per_k.items()
        },
        faces=faces,
        full=full,
        exchange_w_per_m2_k=dict(stack_of(lamp).exchange_w_per_m2_k),
        base_m2_k_per_w=base_m2_k_per_w(lamp),
    )


def _drawn_alike(one: FullBoard, other: FullBoard) -> bool:
    """Whether two boards have the same cells, kept nodes and faces."""
    return (
        one.sheets == other.sheets
        and one.cells.shape == other.cells.shape
        and one.heat.keys() == other.heat.keys()
        and one.faces_m2.keys() == other.faces_m2.keys()
        and all(np.array_equal(one.heat[name], other.heat[name]) for name in one.heat)
    )
