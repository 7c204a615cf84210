"""Boards that heat crosses evenly: resistances add up to thickness over conductivity and area."""

from dataclasses import replace

import pytest

from derate.plant.board.full import cells_of
from derate.plant.board.layout import Layout, Pad
from derate.plant.board.shapes import Rectangle, rectangle_corners
from tests.plant.board.invented_board import ALUMINIUM_BOARD, LAMINATE_BOARD, rises

SOLVED = 1e-9
"""Relative: what solving a few hundred equations may lose."""
SIDE_M = 0.012
AREA_M2 = SIDE_M**2


def covered(on_core):
    """A board that is one pad and one footprint."""
    whole = Rectangle(SIDE_M / 2, SIDE_M / 2, SIDE_M, SIDE_M)
    pads = {"solder.main.1": Pad(whole, whole, on_core)}
    return Layout(rectangle_corners(SIDE_M, SIDE_M), 2e-3, pads=pads)


@pytest.mark.parametrize("slices", [1, 2, 5])
def test_metal_core(slices):
    """Copper, dielectric, core and interface in series, however the core is cut."""
    stack = replace(ALUMINIUM_BOARD, slices=slices, exchange_w_per_m2_k={"interface": 2e4})
    layers = (stack.copper, stack.dielectric, stack.core)
    expected = sum(slab.across_m2_k_per_w for slab in layers) + 1 / 2e4
    found, names = rises(stack, covered(False))
    assert names[1] == "solder.main.1"
    assert found[1, 1] == pytest.approx(expected / AREA_M2, rel=SOLVED)


def test_core_beside_vias():
    """Laminate and vias side by side, bottom copper and interface below them."""
    stack = LAMINATE_BOARD
    core = stack.core.thickness_m / (stack.core.across_w_per_m_k + stack.vias_w_per_m_k)
    interface = 1 / stack.exchange_w_per_m2_k["interface"]
    series = stack.copper.across_m2_k_per_w + core + stack.bottom_copper.across_m2_k_per_w
    found, _ = rises(replace(stack, exchange_w_per_m2_k={"interface": 1e4}), covered(True))
    assert found[1, 1] == pytest.approx((series + interface) / AREA_M2, rel=SOLVED)


def test_two_faces_in_parallel():
    """From thin layers front and back shed side by side."""
    exchange = {"front": 12.0, "back": 8.0}
    found, _ = rises(replace(ALUMINIUM_BOARD, exchange_w_per_m2_k=exchange), covered(False))
    across = ALUMINIUM_BOARD.core.across_m2_k_per_w + ALUMINIUM_BOARD.dielectric.across_m2_k_per_w
    across += ALUMINIUM_BOARD.copper.across_m2_k_per_w
    expected = 1 / (12.0 + 1 / (1 / 8.0 + across)) / AREA_M2
    assert found[1, 1] == pytest.approx(expected, rel=SOLVED)


def test_the_mean_of_the_core_is_halfway_down_it():
    """Where heat crosses evenly the node "board" is at the temperature of the core's middle."""
    stack = replace(ALUMINIUM_BOARD, exchange_w_per_m2_k={"interface": 2e4})
    found, _ = rises(stack, covered(False))
    expected = (1 / 2e4 + stack.core.across_m2_k_per_w / 2) / AREA_M2
    assert found[0, 1] == pytest.approx(expected, rel=SOLVED)


def test_vias_under_the_pads_only():
    """Vias conduct where pads are: their conductance is that of the pads' area."""
    pads = {
        "solder.main.1": Pad(
            Rectangle(5e-3, 5e-3, 4e-3, 3e-3), Rectangle(5e-3, 5e-3, 3e-3, 2e-3), True
        )
    }
    described = Layout(rectangle_corners(0.012, 0.01), 1e-3, pads=pads)
    full = cells_of(replace(LAMINATE_BOARD, bottom_copper=None), described)
    down = full.cells[:, 2].astype(float)
    through = down @ (full.conduction_w_per_k["vias"] @ down)
    slice_m = LAMINATE_BOARD.core.thickness_m / LAMINATE_BOARD.slices
    expected = LAMINATE_BOARD.slices * LAMINATE_BOARD.vias_w_per_m_k * 4e-3 * 3e-3 / slice_m
    assert through == pytest.approx(expected, rel=SOLVED)
