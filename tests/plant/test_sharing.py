"""Parallel branches: equal voltage, currents that add up, and what makes one take more."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.plant.emitter import VOLTAGE, curves_of, voltage_v
from derate.plant.plant import Plant
from derate.plant.sharing import share
from tests.plant.invented import CHANNEL, NODES, drive, emitter, lamp

EXACT = 1e-10
"""Relative: what the sharing promises."""
SPREAD_V = 0.04
"""Forward voltages of one bin spread by this much (invented)."""


@given(
    shifts=st.lists(st.floats(-0.15, 0.15), min_size=2, max_size=5),
    total_a=st.floats(1e-3, 6.0),
    guess=st.floats(2.0, 4.0),
)
@settings(deadline=None, max_examples=200)
def test_equal_voltage_and_full_current(shifts, total_a, guess):
    """Currents add up to the channel's and every branch has the same voltage, to 1e-10."""
    table, shift_v = curves_of(emitter())[VOLTAGE], np.array(shifts)
    count, current_a = np.arange(1.0, len(shifts) + 1), np.empty(len(shifts))
    w = share(table, total_a, count, shift_v, current_a, guess)
    assert count @ current_a == pytest.approx(total_a, rel=EXACT)
    for current, shift in zip(current_a, shift_v, strict=True):
        assert voltage_v(table, np.log(current)) + shift == pytest.approx(w, rel=EXACT)


def test_the_guess_does_not_matter():
    """A good, a bad and no first guess lead to the same currents."""
    table = curves_of(emitter())[VOLTAGE]
    found = []
    for guess in (np.nan, 2.9, 100.0):
        current_a = np.empty(2)
        share(table, 1.4, np.ones(2), np.array([0.0, SPREAD_V]), current_a, guess)
        found.append(current_a)
    np.testing.assert_allclose(found[1:], [found[0]] * 2, rtol=EXACT)


def two_branches(offset_v, solder_point=("left", "right"), **changes):
    nodes = NODES | {name: {"capacitance_j_per_k": 1.0} for name in ("left", "right")}
    links = (
        {"between": ("left", "sink"), "resistance_k_per_w": 6.0},
        {"between": ("right", "sink"), "resistance_k_per_w": 6.0},
        {"between": ("board", "sink"), "resistance_k_per_w": 0.6},
        {"between": ("sink", "ambient"), "resistance_k_per_w": 8.0},
    )
    channel = CHANNEL | {
        "parallel": 2,
        "current_a": 1.4,
        "solder_point": solder_point,
        "forward_voltage_offset_v": (0.0, offset_v),
    }
    return Plant(lamp({"main": channel | changes}, nodes=nodes, links=links))


def branch_currents_a(plant):
    return plant.state.lit.branch[0, :, 0]


def test_hogging():
    """The branch of lower voltage takes more, and the gap grows as it warms: a falling voltage."""
    plant = two_branches(SPREAD_V)
    drive(plant, 1e-6, [1.0])
    cold = branch_currents_a(plant).copy()
    drive(plant, 600.0, [1.0])
    warm = branch_currents_a(plant).copy()
    assert cold.sum() == pytest.approx(1.4, rel=EXACT)
    assert warm.sum() == pytest.approx(1.4, rel=EXACT)
    assert cold[0] > cold[1]
    assert warm[0] - warm[1] > 1.02 * (cold[0] - cold[1])
    junction_c = plant.node_c[plant.junctions["main"]]
    assert junction_c[0] > junction_c[1]


def test_equal_branches_share_equally():
    """Without a spread both branches carry half, and one junction node stands for both."""
    plant = two_branches(0.0, "board")
    drive(plant, 10.0, [1.0])
    assert branch_currents_a(plant) == pytest.approx([0.7], rel=EXACT)
    assert len(plant.junctions["main"]) == 1


def test_unequal_solder_nodes_are_solved_apart():
    """Equal offsets on different nodes are two kinds of branches, alike until temperatures part."""
    plant = two_branches(0.0, ("left", "board"))
    drive(plant, 1e-9, [1.0])
    assert branch_currents_a(plant) == pytest.approx([0.7, 0.7], rel=1e-6)
    drive(plant, 300.0, [1.0])
    junction_c = plant.node_c[plant.junctions["main"]]
    assert junction_c[0] > junction_c[1]  # 6 K/W against 0.6 K/W to the sink
    assert branch_currents_a(plant)[0] > branch_currents_a(plant)[1]


def test_a_nearly_vanishing_spread_changes_nearly_nothing():
    """The solved sharing and the lumped shortcut agree where both apply."""
    solved, lumped = two_branches(1e-12), two_branches(0.0)
    a, b = drive(solved, 5.0, [1.0]), drive(lumped, 5.0, [1.0])
    np.testing.assert_allclose(a[:4], b[:4], rtol=1e-9)
