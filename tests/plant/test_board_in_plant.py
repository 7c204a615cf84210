"""A board in the plant: its nodes among the others, its faces, its interface."""

import numpy as np
import pytest
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

from derate.plant.board.lumped import lumped_board
from derate.plant.network import assemble
from derate.plant.plant import TOLERANCE_K, Plant
from tests.plant.invented import AREA_RESISTANCE_M2_K_PER_W, PLACED, boarded, drive

ENERGY = 1e-9
"""Relative: what the plant promises."""
AT_REST = 1e-8
"""Relative to the rise: exact but for rounding in thousands of cells."""
REDUCED = 0.01
"""Of the rise: what the small board is asked for away from its reference."""


def test_nodes_in_their_order():
    """Nodes of the file, of the board, junctions, sensors; losses may go to the board."""
    plant = Plant(boarded())
    names = list(plant.node_names)
    assert names[:6] == [
        "sink", "board", "solder.pair.1", "solder.pair.2", "solder.lone.1", "place.ntc",
    ]  # fmt: skip
    assert names[-4:] == ["junction.pair.0", "junction.pair.1", "junction.lone.0", "sensor.ntc"]
    assert all(name.startswith("board.") for name in names[6:-4])
    assert plant.junctions["pair"].tolist() == [len(names) - 4, len(names) - 3]
    assert plant._assembly.heated == [*names[-4:], "board"]


def cells_at_rest(described, watt, *, factor=1.0):
    """Temperatures [degC] of the sink and of board nodes from all cells, ambient at 0 degC.

    ``watt``: heat into kept nodes of the board. The face in air exchanges at its reference.
    """
    board, full = lumped_board(described), lumped_board(described).full
    cells = len(full.capacitance_j_per_k)
    plant = Plant(described)
    front = plant._assembly.exchange.reference_w_per_k[0] / full.faces_m2["front"].sum()
    through = full.faces_m2["interface"] / (AREA_RESISTANCE_M2_K_PER_W * factor)
    inside = full.conductance_w_per_k({"front": front}) + sparse.diags_array(through)
    last = sparse.csr_array(through[:, None])
    whole = sparse.block_array([[inside, -last], [-last.T, [[through.sum() + 1.0 / 6.0]]]])
    heat = np.zeros(cells + 1)
    for node, heat_w in watt.items():
        heat[:cells] += heat_w * full.heat[board.same.get(node, node)]
    cell_c = spsolve(sparse.csc_array(whole), heat)
    seen = {node: share @ cell_c[:cells] for node, share in full.heat.items()}
    return seen | {"sink": cell_c[cells]}


def network_at_rest(described, watt, **state):
    """The same from the network of the plant."""
    network = assemble(described, **state)
    heat = np.zeros(len(network.names))
    for node, heat_w in watt.items():
        heat[network.index(node)] += heat_w
    node_c = np.linalg.solve(network.conductance_w_per_k, heat)
    return lambda node: node_c[network.index(node)]


def test_rest_is_that_of_all_cells():
    """At rest every node of board and sink has the temperature that thousands of cells give it."""
    watt = {"solder.pair.1": 1.2, "solder.lone.1": 0.7, "board": 0.3}
    desired = cells_at_rest(boarded(), watt)
    got = network_at_rest(boarded(), watt)
    rise_k = max(desired.values())
    for node, node_c in desired.items():
        assert got(node) == pytest.approx(node_c, abs=AT_REST * rise_k)


def test_a_degraded_interface():
    """An interface that conducts a tenth leads where the cells say, between board and sink."""
    watt = {"solder.pair.1": 1.2, "solder.pair.2": 1.2}
    got = network_at_rest(boarded(), watt, degraded={"interface": 10.0})
    good = network_at_rest(boarded(), watt)
    for node, node_c in cells_at_rest(boarded(), watt, factor=10.0).items():
        assert got(node) == pytest.approx(node_c, rel=REDUCED)
    through_w = got("sink") / 6.0
    film_k = through_w * 10.0 * AREA_RESISTANCE_M2_K_PER_W / (30e-3 * 20e-3)
    assert got("board") - got("sink") == pytest.approx(film_k, rel=0.02)  # of the whole area
    assert got("board") - got("sink") > 8.0 * (good("board") - good("sink"))


def test_books_close_with_a_board():
    """Heat put in = heat stored in board and sink + heat that left, front in air included."""
    plant = Plant(boarded())
    start_c = plant.node_c.copy()
    for duties, degraded, dt_s in (
        ([1.0, 0.5], {}, 0.2),
        ([0.3, 1.0], {"interface": 5.0}, 60.0),
        ([0.0, 0.8], {}, 200.0),
    ):
        plant.configure(1.0, degraded)
        drive(plant, dt_s, duties)
    capacity = assemble(plant.lamp).capacitance_j_per_k
    put_in_j = plant.tally.heat_j.sum()
    left_j = (capacity @ (plant.node_c - start_c)).sum() + plant.tally.ambient_j.sum()
    assert put_in_j == pytest.approx(left_j, rel=ENERGY)


def test_uniform_temperature_stays():
    """A board as warm as its surroundings stays so: no heat flows in it by itself."""
    plant = Plant(boarded())
    plant.reset(np.array([60.0]))
    np.testing.assert_allclose(plant.node_c, 60.0, rtol=1e-12)
    drive(plant, 500.0, [0.0, 0.0], ambient_c=[60.0])
    np.testing.assert_allclose(plant.node_c, 60.0, atol=1e-9)


def test_two_emitters_on_one_spot_share_a_node():
    """Channels with an emitter each on the same position heat the same copper."""
    spot = PLACED | {"at": ((15e-3, 10e-3),), "pad_m": (6e-3, 5e-3)}
    plant = Plant(boarded({"red": spot, "blue": spot}))
    assert plant.node_index("solder.blue.1") == plant.node_index("solder.red.1")
    assert "solder.blue.1" not in plant.node_names
    drive(plant, 30.0, [1.0, 0.0])
    lit_c, dark_c = (plant.node_c[plant.junctions[name][0]] for name in ("red", "blue"))
    solder_c = plant.node_c[plant.node_index("solder.blue.1")]
    assert dark_c == pytest.approx(solder_c, abs=1e-3)
    assert lit_c > solder_c + 1.0
    assert plant._assembly.network(1.0, {}).index("solder.blue.1") == plant.node_index(
        "solder.red.1"
    )


def test_steps_on_a_board_keep_the_tolerance():
    """From dark to full on a cold board one long call agrees with many short ones."""
    coarse, fine = Plant(boarded()), Plant(boarded())
    fine.max_step_s, fine.tolerance_k = 2e-3, np.inf
    for duties in ([1.0, 1.0], [0.2, 1.0]):
        got, desired = drive(coarse, 2.0, duties), drive(fine, 2.0, duties)
        np.testing.assert_allclose(got, desired, atol=10 * TOLERANCE_K)
    np.testing.assert_allclose(coarse.tally.peak_c, fine.tally.peak_c, atol=10 * TOLERANCE_K)
