"""Boards in air: what their faces shed by rise and airflow, against all cells."""

import numpy as np
import pytest

from derate.plant.heat import corrections_w
from derate.plant.network import assemble
from derate.plant.plant import Plant
from derate.plant.rest import resting
from tests.plant.board.in_air import LAMINATE, METAL_CORE, ONE, THREE, airy, rest_of_cells_c
from tests.plant.invented import drive

AIM = 0.01
"""Of a node's own rise: what the board is asked for."""
FAINT_K = 5e-3
"""Rises are exact to this where they fade away from the heat: a fifth of a thermistor's step."""
ENERGY = 1e-9
"""Relative: what the plant promises."""
ROUNDING = 1e-12
"""Relative: sums of a few dozen products."""
BOARDS = {
    "laminate": airy(LAMINATE, **ONE),
    "laminate, three emitters": airy(LAMINATE, **THREE),
    "laminate in still air": airy(LAMINATE, speed_m_per_s=None, **ONE),
    "metal core": airy(METAL_CORE, **ONE),
}
CURRENTS_A = (0.02, 0.2, 0.35)
"""The hottest solder node rises by about 1 K, 30 K, 80 K."""


def at_rest(described, airflow=1.0):
    """The lamp ready, and its rest with everything on in 25 degC."""
    ready = resting(described, airflow=airflow)
    return ready, ready.rest(np.ones(1), np.array([25.0]))


@pytest.mark.parametrize("airflow", [0.0, 1.0, 4.0])
@pytest.mark.parametrize("name", BOARDS)
def test_rest_is_that_of_all_cells(name, airflow):
    """Whatever airflow and rise, nodes rise as a nonlinear solution over all cells says."""
    for current_a in CURRENTS_A:
        described = BOARDS[name].with_changes({"channels.main.current": current_a})
        ready, rest = at_rest(described, airflow)
        groups, watt = ready.assembly.groups, {}
        solders = [node for node in ready.assembly.board.names if node.startswith("solder.")]
        for group, heat_w in zip(groups, rest.heat_w, strict=False):
            mine = solders if len(groups) == 1 else [group.node]
            watt |= dict.fromkeys(mine, float(heat_w) / len(mine))
        for node, expected_c in rest_of_cells_c(described, watt, airflow).items():
            got_c = rest.node_c[ready.assembly.place[node]]
            assert got_c - 25.0 == pytest.approx(expected_c - 25.0, rel=AIM, abs=FAINT_K), node


def test_a_place_is_never_colder_than_the_air():
    """In a strong wind the far corner of a laminate stays above the air around it."""
    ready, rest = at_rest(BOARDS["laminate"], airflow=4.0)
    assert rest.node_c[ready.assembly.place["place.ntc"]] > 25.05


def test_books_close_in_any_wind():
    """Heat put in = heat stored + heat that left by front, back and edge."""
    plant = Plant(BOARDS["laminate, three emitters"])
    start_c = plant.node_c.copy()
    for airflow, duty, dt_s in ((1, 1.0, 0.1), (0, 0.6, 300.0), (4, 1.0, 30.0), (0.2, 0.0, 9.0)):
        plant.configure(airflow, {})
        drive(plant, dt_s, [duty])
    capacity = assemble(plant.lamp).capacitance_j_per_k
    stored_j = (capacity @ (plant.node_c - start_c)).sum()
    assert plant.tally.heat_j.sum() == pytest.approx(
        stored_j + plant.tally.ambient_j.sum(), rel=ENERGY
    )
    assert plant.configuration == 0


def test_the_plant_comes_to_rest_there():
    """Hours of the plant end at the rest that is solved for."""
    described = BOARDS["laminate"]
    plant = Plant(described)
    plant.configure(0.0, {})
    drive(plant, 20_000.0, [1.0])
    _, rest = at_rest(described, airflow=0.0)
    assert plant.node_c == pytest.approx(rest.node_c, abs=2e-3)


def test_a_uniform_board_sheds_by_its_mean():
    """Without heat nothing deviates: patterns and cubes leave an even board alone."""
    plant = Plant(BOARDS["laminate, three emitters"])
    exchange, network = plant.machine.exchange, assemble(plant.lamp)
    felt = network.inject[:, -exchange.inputs :].T @ np.full(len(network.names), 70.0)
    assert np.abs(felt[2:]).max() < 70.0 * ROUNDING * len(network.names)
    heat_w = np.zeros(exchange.inputs)
    for s in (0, 1):
        corrections_w(exchange, s, felt, np.array([25.0]), 1.0, heat_w)
    assert (heat_w[:2] < 0.0).all()
    assert np.abs(heat_w[2:]).max() < 1e-9


def test_faces_are_passive():
    """However strong the wind, what the faces add to the network takes heat out and is mutual."""
    ready, _ = at_rest(BOARDS["laminate, three emitters"], airflow=4.0)
    exchange, network = ready.assembly.exchange, ready.network
    inject, cold = network.inject[:, -exchange.inputs :], np.array([25.0])

    def shed_w(node_c):
        """Heat that leaves each node [W], linear in small rises."""
        heat_w = np.zeros(exchange.inputs)
        for s in (0, 1):
            corrections_w(exchange, s, inject.T @ node_c, cold, 4.0, heat_w)
        carried = network.conductance_w_per_k @ node_c - network.ambient_w_per_k @ cold
        return carried - inject @ heat_w

    even, small = np.full(len(network.names), 25.0), 1e-3
    matrix = np.array([shed_w(even + small * unit) for unit in np.eye(len(even))]) / small
    scale = np.abs(matrix).max()
    assert np.abs(matrix - matrix.T).max() < 1e-4 * scale
    assert np.linalg.eigvalsh(0.5 * (matrix + matrix.T))[0] > -1e-4 * scale


def test_edges_shed():
    """The edge of the core counts: a thick small board is cooler than its two faces make it."""
    described = BOARDS["metal core"]
    board = resting(described).assembly.board
    width_m, height_m = described.board.size_m
    edge_m2 = 2 * (width_m + height_m) * 1.5e-3
    assert board.faces["edge"].area_m2 == pytest.approx(edge_m2)
    for side in ("front", "back"):
        assert board.faces[side].area_m2 == pytest.approx(width_m * height_m + edge_m2 / 2)
    ready, rest = at_rest(described)
    left_w = float(rest.ambient_w.sum())
    assert left_w == pytest.approx(rest.heat_w[: len(ready.assembly.groups)].sum(), rel=1e-6)
