"""Ladders, solder joints and stated masses, as they stand in the network of a lamp."""

import itertools

import numpy as np
import pytest

from derate.plant.emitter import real_factor, real_resistance_k_per_w
from derate.plant.network import Network, assemble
from derate.plant.plant import Plant
from tests.plant.invented import CHANNEL, LINKS, NODES, WHITE, drive, emitter, lamp
from tests.plant.rig import Rig

EXACT = 1e-10
"""Relative: sums of a few exponentials and conversions that keep their digits."""
CAUER = {
    "form": "cauer",
    "resistance_k_per_w": (0.8, 1.2, 2.0),
    "capacitance_j_per_k": (4e-4, 2e-3, 1.5e-2),
}
FOSTER = {
    "form": "foster",
    "resistance_k_per_w": (1.1, 2.4, 0.5),
    "capacitance_j_per_k": (7e-4, 6e-3, 0.08),
}
LUMPED = {"junction_to_solder_resistance_k_per_w", "junction_capacitance_j_per_k"}
UNLADEN = {key: value for key, value in WHITE.items() if key not in LUMPED}
FIXED = (
    {"between": ("board", "sink"), "resistance_k_per_w": 0.6},
    {"between": ("sink", "ambient"), "resistance_k_per_w": 1e-6},
)
"""The board is held at the ambient, so that an emitter's own ladder is all that is left."""
HELD = {"board": {"capacitance_j_per_k": 1e9}, "sink": {"capacitance_j_per_k": 1e9}}


def with_ladder(ladder, **changes):
    """A lamp whose emitter is a ladder, on a board that hardly warms."""
    return lamp(emitters={"white": UNLADEN | {"ladder": ladder} | changes}, nodes=HELD, links=FIXED)


def rise_after(described, t_s, node="junction.main.0"):
    """Kelvin per watt at a node ``t_s`` [s] after one watt has begun to enter it."""
    network = assemble(described)
    at = network.index(node)
    watt = np.eye(len(network.names))[:, [at]]
    alone = Network(
        network.names,
        network.capacitance_j_per_k,
        network.conductance_w_per_k,
        network.ambient_w_per_k,
        np.eye(len(network.names)),
    )
    return Rig(alone, 0.0).advance(t_s, watt[:, 0], np.zeros(network.ambient_w_per_k.shape[1]))[at]


@pytest.mark.parametrize("t_s", [1e-4, 3e-3, 0.05, 2.0])
def test_foster_ladder_has_its_own_step_response(t_s):
    """A junction given by Foster pairs warms by the sum of R (1 - exp(-t / RC))."""
    pairs = zip(FOSTER["resistance_k_per_w"], FOSTER["capacitance_j_per_k"], strict=True)
    desired = sum(r * -np.expm1(-t_s / (r * c)) for r, c in pairs)
    assert rise_after(with_ladder(FOSTER), t_s) == pytest.approx(desired, rel=1e-6)  # board 1e9 J/K


def test_cauer_ladder_stands_node_by_node():
    """Its capacities are those of the junction and of nodes inside, its resistances in between."""
    network = assemble(with_ladder(CAUER))
    way = [network.index(n) for n in ("junction.main.0", "junction.main.0.1", "junction.main.0.2")]
    assert network.names[-2:] == ("junction.main.0.1", "junction.main.0.2")
    np.testing.assert_allclose(
        np.diag(network.capacitance_j_per_k)[way], CAUER["capacitance_j_per_k"], rtol=EXACT
    )
    ends = [*way, network.index("board")]
    between = [-network.conductance_w_per_k[i, j] for i, j in itertools.pairwise(ends)]
    np.testing.assert_allclose(1.0 / np.array(between), CAUER["resistance_k_per_w"], rtol=EXACT)


def test_a_ladder_of_one_stage_is_the_lumped_emitter():
    """One stage of 4 K/W and 2.5 mJ/K gives what the two plain keys give."""
    one = {"form": "cauer", "resistance_k_per_w": (4.0,), "capacitance_j_per_k": (2.5e-3,)}
    plain, ladder = Plant(lamp()), Plant(lamp(emitters={"white": UNLADEN | {"ladder": one}}))
    for dt_s, duty in ((0.01, 1.0), (30.0, 0.4)):
        got = drive(ladder, dt_s, [duty])
        np.testing.assert_array_equal(got, drive(plain, dt_s, [duty]))


@pytest.mark.parametrize("form", [CAUER, FOSTER])
def test_convention_changes_resistances_and_keeps_times(form):
    """Per electrical watt every resistance grows by the factor, every capacity falls by it."""
    electrical = {"resistance_convention": "electrical", "resistance_current_a": 0.7}
    factor = real_factor(emitter(**electrical))
    assert factor == pytest.approx(0.7 * 2.99 / (0.7 * 2.99 - 0.73), rel=EXACT)
    real, told = with_ladder(form), with_ladder(form, **electrical)
    for t_s in (1e-3, 0.03, 1.0):
        assert rise_after(told, t_s) == pytest.approx(factor * rise_after(real, t_s), rel=1e-6)
    total = sum(form["resistance_k_per_w"])
    assert real_resistance_k_per_w(told.emitters["white"]) == pytest.approx(
        factor * total, rel=EXACT
    )


def test_many_emitters_are_one_ladder():
    """Six alike emitters on one node: resistances a sixth, capacities six times, at every stage."""
    channel = CHANNEL | {"series": 3, "parallel": 2, "current_a": 1.4}
    kinds = {"white": UNLADEN | {"ladder": CAUER}}
    network = assemble(lamp({"main": channel}, emitters=kinds))
    single = assemble(lamp(emitters=kinds))
    for name in ("junction.main.0", "junction.main.0.1", "junction.main.0.2"):
        i, j = network.index(name), single.index(name)
        for matrix in ("capacitance_j_per_k", "conductance_w_per_k"):
            assert getattr(network, matrix)[i, i] == pytest.approx(
                6.0 * getattr(single, matrix)[j, j], rel=EXACT
            )


def test_solder_joint_lies_in_series():
    """80 um at 58 W/(m K) below 3 x 3 mm with 10 % voids adds t / (k A 0.9), ladder or not."""
    joint = {"thickness_m": 80e-6, "conductivity_w_per_m_k": 58.0, "voids": 0.1}
    soldered = {"footprint_m": (3e-3, 3e-3), "solder": joint}
    desired = 80e-6 / (58.0 * 9e-6 * 0.9)
    plain = lamp(emitters={"white": WHITE | soldered}, nodes=HELD, links=FIXED)
    assert rise_after(plain, 1e3) == pytest.approx(4.0 + desired, rel=1e-6)
    assert rise_after(with_ladder(CAUER, **soldered), 1e3) == pytest.approx(4.0 + desired, rel=1e-6)
    electrical = {"resistance_convention": "electrical", "resistance_current_a": 0.7}
    both = lamp(emitters={"white": WHITE | soldered | electrical}, nodes=HELD, links=FIXED)
    factor = real_factor(emitter(**electrical))
    assert rise_after(both, 1e3) == pytest.approx(4.0 * factor + desired, rel=1e-6)


def test_voids_take_their_share_of_the_area():
    """25 % voids add a third to the resistance of the joint (arithmetic: 1 / 0.75)."""
    resistances = []
    for voids in (0.0, 0.25):
        joint = {"thickness_m": 80e-6, "material": "sac305", "voids": voids}
        soldered = {"footprint_m": (3e-3, 3e-3), "solder": joint}
        described = lamp(emitters={"white": WHITE | soldered}, nodes=HELD, links=FIXED)
        resistances.append(rise_after(described, 1e3) - 4.0)
    assert resistances[1] / resistances[0] == pytest.approx(4 / 3, rel=1e-4)


def test_a_ladder_as_a_link_is_seen_from_its_first_end():
    """The first capacity adds to the first node; the other stages are nodes of their own."""
    links = (
        {"between": ("board", "sink"), "ladder": CAUER, "name": "spreader"},
        {"between": ("sink", "ambient"), "resistance_k_per_w": 8.0},
    )
    network = assemble(lamp(links=links))
    assert network.names[-2:] == ("link.spreader.1", "link.spreader.2")
    capacity = np.diag(network.capacitance_j_per_k)
    assert capacity[network.index("board")] == pytest.approx(6.0 + 4e-4, rel=EXACT)
    assert capacity[network.index("link.spreader.2")] == pytest.approx(1.5e-2, rel=EXACT)
    plain = assemble(lamp(links=({**LINKS[0], "resistance_k_per_w": 4.0}, *LINKS[1:])))
    heat_w = np.eye(len(network.names))[network.index("board")]
    rest = np.linalg.solve(network.conductance_w_per_k, heat_w)
    other = np.linalg.solve(plain.conductance_w_per_k, heat_w[: len(plain.names)])
    assert rest[0] == pytest.approx(other[0], rel=EXACT)


def test_a_degraded_ladder_link_resists_in_every_stage():
    """The factor of an event multiplies all its resistances and none of its capacities."""
    links = (
        {"between": ("board", "sink"), "ladder": CAUER, "name": "spreader"},
        {"between": ("sink", "ambient"), "resistance_k_per_w": 8.0},
    )
    good, bad = (assemble(lamp(links=links), degraded={"spreader": f}) for f in (1.0, 3.0))
    i, j = good.index("link.spreader.1"), good.index("link.spreader.2")
    ratio = good.conductance_w_per_k[i, j] / bad.conductance_w_per_k[i, j]
    assert ratio == pytest.approx(3.0, rel=EXACT)
    np.testing.assert_array_equal(good.capacitance_j_per_k, bad.capacitance_j_per_k)


def test_mass_times_specific_heat():
    """180 g of an alloy of 896 J/(kg K) hold 161.3 J/K."""
    materials = {
        "my_alloy": {
            "conductivity_w_per_m_k": 160.0,
            "density_kg_per_m3": 2700.0,
            "specific_heat_j_per_kg_k": 896.0,
        }
    }
    nodes = NODES | {"sink": {"mass_kg": 0.18, "material": "my_alloy"}}
    network = assemble(lamp(nodes=nodes, materials=materials))
    sink = network.index("sink")
    assert network.capacitance_j_per_k[sink, sink] == pytest.approx(0.18 * 896.0, rel=EXACT)
