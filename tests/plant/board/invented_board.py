"""Invented boards for the tests of this room, small enough to be solved in full."""

from dataclasses import replace

import numpy as np

from derate.plant.board.answers import factors
from derate.plant.board.full import cells_of
from derate.plant.board.layout import Layout, Pad
from derate.plant.board.lumped import lump
from derate.plant.board.shapes import Rectangle, circle_corners, rectangle_corners
from derate.plant.board.stack import Slab, Stack

COPPER_W_PER_M_K, COPPER_J_PER_M3_K = 391.0, 3.42e6


def copper(thickness_m):
    """A copper layer."""
    return Slab(thickness_m, COPPER_W_PER_M_K, COPPER_W_PER_M_K, COPPER_J_PER_M3_K)


ALUMINIUM_BOARD = Stack(
    copper=copper(35e-6),
    dielectric=Slab(100e-6, 2.2, 2.2, 2e6),
    core=Slab(1.5e-3, 138.0, 138.0, 2.36e6),
    exchange_w_per_m2_k={"front": 12.0, "interface": 2e4},
)
LAMINATE_BOARD = Stack(
    copper=copper(35e-6),
    core=Slab(1.6e-3, 1.06, 0.34, 2.0e6),
    bottom_copper=copper(35e-6),
    vias_w_per_m_k=6.0,
    slices=2,
    exchange_w_per_m2_k={"front": 12.0, "interface": 1e4},
)
IN_AIR = replace(ALUMINIUM_BOARD, exchange_w_per_m2_k={"front": 12.0, "back": 8.0})

TWO = {"solder.main.1": (8e-3, 7e-3), "solder.main.2": (20e-3, 9e-3)}


def layout(at=None, *, size_m=(0.03, 0.02), cell_m=1.5e-3, pad_m=(6e-3, 5e-3),
           footprint_m=(3e-3, 3e-3), on_core=False, **parts):  # fmt: skip
    """A rectangular board with pads of one size, a sensor between them."""
    pads = {
        node: Pad(Rectangle(*spot, *pad_m), Rectangle(*spot, *footprint_m), on_core)
        for node, spot in (TWO if at is None else at).items()
    }
    described = {
        "outline": rectangle_corners(*size_m),
        "cell_m": cell_m,
        "pads": pads,
        "places": {"place.ntc": (14e-3, 13e-3)},
    }
    return Layout(**(described | parts))


def round_layout(**parts):
    """A round board of 24 mm with a hole beside its one emitter."""
    return layout(
        {"solder.main.1": (0.0, 0.0)},
        outline=circle_corners(0.0, 0.0, 0.024),
        holes=(circle_corners(8e-3, 0.0, 3e-3),),
        places={"place.ntc": (-6e-3, 3e-3)},
        **parts,
    )


def standing(stack, on_core):
    """The layout of two emitters that suits a stack."""
    return layout(on_core=on_core or stack.dielectric is None)


def steady(full, exchange_w_per_m2_k, heat=None):
    """Rise of all cells [K/W] for a watt into each kept node, or for ``heat`` (M, n)."""
    if heat is None:
        heat = np.column_stack(list(full.heat.values()))
    return factors(full.conductance_w_per_k(exchange_w_per_m2_k)).solve(heat)


def rises(stack, described):
    """Steady rise per watt between kept nodes [K/W], and the names of these."""
    full = cells_of(stack, described)
    heat = np.column_stack(list(full.heat.values()))
    return heat.T @ steady(full, stack.exchange_w_per_m2_k), list(full.heat)


def lumped_and_full(stack, described, accuracy=0.01):
    """The small network of a board and the cells behind it."""
    full = cells_of(stack, described)
    return lump(full, stack.exchange_w_per_m2_k, accuracy), full


def conductance_of(board, exchange_w_per_m2_k=None):
    """Conductance matrix of a small network with an exchange of its faces."""
    exchange = board.exchange_w_per_m2_k if exchange_w_per_m2_k is None else exchange_w_per_m2_k
    return sum(board.conduction_w_per_k.values()) + sum(
        each * board.faces[name].matrix_m2 for name, each in exchange.items()
    )
