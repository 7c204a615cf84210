"""Thin plates against an independent double cosine series, heated on rectangles, cooled on a face.

For a plate of conductivity k and thickness t that loses u per area and is so thin that nothing
varies across it,

    T(x, y) = q / (a b) sum over m, n of e_m e_n S_m S_n cos(m pi x / a) cos(n pi y / b) / D_mn
    D_mn = k t ((m pi / a)^2 + (n pi / b)^2) + u,    e_0 = 1, else 2

with S the mean of the cosine over the heated rectangle. Written here from the equation itself.
"""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from derate.plant.board.full import cells_of
from derate.plant.board.layout import Layout, Pad
from derate.plant.board.shapes import Rectangle, rectangle_corners
from derate.plant.board.stack import Slab
from tests.plant.board.invented_board import LAMINATE_BOARD, steady

WIDTH_M, HEIGHT_M = 0.04, 0.03
CONDUCTIVITY, THICKNESS_M, FILM = 150.0, 1e-3, 400.0
HEATED = {
    "solder.main.1": (0.008, 0.006, 0.006, 0.004),
    "solder.main.2": (0.025, 0.018, 0.01, 0.006),
}
TERMS = 600
FINE, FINE_ERROR = 1 / 8, 2.5e-3
"""Cells of this part of the heated rectangle's shorter side, and the relative error of a mean
there: 0.21 % as measured."""
TOO_LITTLE = 0.9
"""Halving cells must cut the error to a quarter; this share of four is taken for it."""


def mean_cosines(numbers, length_m, middle_m, width_m):
    """Mean of cos(n pi x / length) over an interval."""
    return np.cos(numbers * np.pi * middle_m / length_m) * np.sinc(
        numbers * width_m / (2 * length_m)
    )


def series(source, probe):
    """Mean over ``probe`` of the rise by a watt into ``source`` [K/W]."""
    n = np.arange(TERMS)
    twice = np.where(n > 0, 2.0, 1.0)
    across, upwards = twice.copy(), twice.copy()
    for x_m, y_m, width_m, height_m in (source, probe):
        across *= mean_cosines(n, WIDTH_M, x_m, width_m)
        upwards *= mean_cosines(n, HEIGHT_M, y_m, height_m)
    waves = (n[:, None] * np.pi / WIDTH_M) ** 2 + (n * np.pi / HEIGHT_M) ** 2
    return (
        across @ (1 / (CONDUCTIVITY * THICKNESS_M * waves + FILM)) @ upwards / (WIDTH_M * HEIGHT_M)
    )


def modelled(narrow_m):
    """The same between the two rectangles by cells, on a plate of a single thin layer."""
    nothing = Slab(1e-9, 1e-3, 1e3, 3e6)
    plate = Slab(THICKNESS_M, CONDUCTIVITY, 1e6, 2.4e6)
    stack = replace(
        LAMINATE_BOARD, copper=nothing, core=plate, bottom_copper=None, vias_w_per_m_k=0.0,
        slices=1, exchange_w_per_m2_k={"back": FILM},
    )  # fmt: skip
    pads = {node: Pad(Rectangle(*at), Rectangle(*at), True) for node, at in HEATED.items()}
    outline = rectangle_corners(WIDTH_M, HEIGHT_M)
    full = cells_of(stack, Layout(outline, narrow_m, pads=pads))
    heat = np.column_stack([full.heat[node] for node in HEATED])
    return heat.T @ steady(full, stack.exchange_w_per_m2_k, heat)


EXPECTED = np.array([[series(a, b) for b in HEATED.values()] for a in HEATED.values()])


def test_means_over_heated_rectangles():
    """Own and mutual rises of two heated rectangles are those of the series."""
    found = modelled(0.004 * FINE)
    assert found == pytest.approx(EXPECTED, rel=FINE_ERROR)


def test_second_order():
    """Halving the cells quarters the error."""
    cells_m = 0.004 * np.array([1 / 6, 1 / 12, 1 / 24])
    errors = [np.abs(modelled(cell_m) - EXPECTED).max() for cell_m in cells_m]
    for coarse, fine in itertools.pairwise(errors):
        assert coarse / fine > 4 * TOO_LITTLE
