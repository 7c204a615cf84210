"""Surfaces in the plant: heat that does not follow the rise in proportion, and its books."""

import itertools

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from derate.plant.emission import dark, emit
from derate.plant.network import assemble
from derate.plant.plant import TOLERANCE_K, Plant
from derate.plant.state import Interval
from derate.plant.surface.exchange import exchange_of, heat_out_w
from tests.plant.invented import (
    CHANNEL,
    FINS,
    NODES,
    PASTE,
    RIM,
    STRONG,
    drive,
    lamp,
    shedding,
)

ENERGY = 1e-9
"""Relative: what the plant promises."""
STEPS_K = 10 * TOLERANCE_K
"""Two ways of stepping may differ by a few steps' errors."""
SOLVER_K = 1e-6
"""scipy's integrator is asked for 1e-10 of some tens of kelvin, at kinks of the tables."""
AT_REST_K = 1e-6
"""What is left after the time waited, and of the steps' tolerance at rest."""


def stored_j(plant, start_c):
    """Heat that the nodes hold more than at ``start_c``."""
    return float((assemble(plant.lamp).capacitance_j_per_k @ (plant.node_c - start_c)).sum())


def missing_j(plant, start_c):
    """Heat put in that is neither stored nor has left, over the heat put in."""
    put_in_j = plant.tally.heat_j.sum()
    return (put_in_j - stored_j(plant, start_c) - plant.tally.ambient_j.sum()) / put_in_j


def test_books_close_whatever_the_airflow():
    """Heat put in = heat stored + heat that really left, through steps and gusts."""
    plant = Plant(shedding())
    start_c = plant.node_c.copy()
    for airflow, duty, dt_s in ((1, 1.0, 0.1), (0, 0.6, 300.0), (2.5, 1.0, 30.0), (0.2, 0.0, 9.0)):
        plant.configure(airflow, {})
        drive(plant, dt_s, [duty], sensor_heat_w=[1e-3])
    assert missing_j(plant, start_c) == pytest.approx(0.0, abs=ENERGY)
    assert len(plant.tally.heat_j) == 2
    assert plant.tally.heat_j[1] == pytest.approx(1e-3 * plant.time_s, rel=1e-12)
    assert plant.configuration == 0


def test_each_ambient_gets_what_its_surface_sheds():
    """With one surface to each of two ambients their books are kept apart."""
    surfaces = {"fins": FINS, "rim": RIM | {"to": "room"}}
    plant = Plant(shedding(surfaces=surfaces, ambients=("ambient", "room")))
    for _ in range(200):
        drive(plant, 60.0, [0.8], ambient_c=[25.0, 15.0])
    before_j, clock_s = plant.tally.ambient_j.copy(), plant.time_s
    drive(plant, 10.0, [0.8], ambient_c=[25.0, 15.0])
    exchange = exchange_of(plant.lamp, {"board": 0, "sink": 1})
    shed_w = [
        heat_out_w(exchange, 0, plant.node_c[1], 25.0, 1.0),
        heat_out_w(exchange, 1, plant.node_c[0], 15.0, 1.0),
    ]
    got_w = (plant.tally.ambient_j - before_j) / (plant.time_s - clock_s)
    np.testing.assert_allclose(got_w, shed_w, rtol=1e-6)


def test_rest_is_where_heat_and_shedding_meet():
    """One node, one surface: it stands where a root search finds it, not where G alone would."""
    plant = Plant(lamp(STRONG, nodes={"board": NODES["sink"]}, links=(), surfaces={"rim": RIM}))
    for _ in range(1500):
        drive(plant, 60.0, [0.7])
    heat_w = (plant.node_c[1] - plant.node_c[0]) * 3 / 4.0
    exchange = exchange_of(plant.lamp, {"board": 0})
    root_c = brentq(lambda at: heat_out_w(exchange, 0, at, 25.0, 1.0) - heat_w, 25.0, 900.0)
    assert plant.node_c[0] == pytest.approx(root_c, abs=AT_REST_K)
    linear_c = 25.0 + heat_w / exchange.reference_w_per_k[0]
    assert abs(linear_c - root_c) > 5.0


def test_a_given_surface_follows_its_exponent():
    """R grows as rise^-1/4: sixteen times the heat is 2^3.2 times the rise (arithmetic)."""
    rises_k = []
    for current_a in (0.1, 0.4, 1.0):
        channel = {"main": CHANNEL | {"current_a": current_a, "junction_limit_c": 140.0}}
        plant = Plant(lamp(channel, nodes={"board": NODES["board"]}, links=(), surfaces={"r": RIM}))
        for _ in range(300):
            drive(plant, 60.0, [1.0])
        heat_w = (plant.node_c[1] - plant.node_c[0]) / 4.0
        rises_k.append((plant.node_c[0] - 25.0, heat_w))
    for (rise_k, heat_w), (other_k, other_w) in itertools.pairwise(rises_k):
        assert other_k / rise_k == pytest.approx((other_w / heat_w) ** 0.8, rel=1e-5)


def test_refinement_is_of_second_order():
    """Halving the largest step divides the error of held shedding by four."""
    given = {"rim": RIM | {"of": "sink", "resistance_k_per_w": 2.0}}  # a table without kinks
    described = shedding(surfaces=given)
    errors, exact = [], None
    for step_s in (64.0 / 2048, 64.0 / 8, 64.0 / 16, 64.0 / 32):
        plant = Plant(described)
        plant.reset(np.array([25.0]), 90.0)
        plant.max_step_s, plant.tolerance_k = step_s, np.inf
        end_c = drive(plant, 64.0, [0.0])[1]
        if exact is None:
            exact = end_c
        else:
            errors.append(abs(end_c - exact))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.15)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.15)


def test_adaptive_steps_keep_the_tolerance():
    """A hot sink left to cool in one long call is right within a few tolerances."""
    coarse, fine = (Plant(shedding()) for _ in range(2))
    fine.max_step_s, fine.tolerance_k = 0.1, np.inf
    for plant in (coarse, fine):
        plant.reset(np.array([25.0]), 120.0)
    for airflow in (0.0, 3.0):
        coarse.configure(airflow, {})
        fine.configure(airflow, {})
        got, desired = drive(coarse, 100.0, [0.3]), drive(fine, 100.0, [0.3])
        np.testing.assert_allclose(got, desired, atol=STEPS_K)


def test_against_a_general_solver():
    """The nonlinear network agrees with scipy's integrator, which knows nothing of modes."""
    described = shedding(driver={"efficiency": 0.85, "heat_node": "sink", "frequency_hz": 2e4})
    plant = Plant(described)
    plant.tolerance_k, plant.max_step_s = 1e-7, 0.05
    network, exchange = assemble(described), exchange_of(described, {"board": 0, "sink": 1})
    emission, lit = plant.machine.emission, dark(plant.machine.emission)
    inputs, duties = network.inject.shape[1], np.array([0.65])
    heat_w, output, ambient_c = np.zeros(inputs), np.zeros((3, 1)), np.array([10.0])

    def rate(_, node_c, airflow):
        emit(emission, lit, node_c[2:3], duties, duties, heat_w, output)
        into = network.inject[:, : inputs - 2] @ heat_w[: inputs - 2]
        into += network.ambient_w_per_k @ ambient_c - network.conductance_w_per_k @ node_c
        for s in range(2):
            i = exchange.node[s]
            reference = exchange.reference_w_per_k[s]
            into[i] += reference * (node_c[i] - ambient_c[0])
            into[i] -= heat_out_w(exchange, s, node_c[i], ambient_c[0], airflow)
        return into / np.diag(network.capacitance_j_per_k)

    node_c = plant.node_c.copy()
    for airflow, dt_s in ((1.0, 40.0), (0.0, 300.0), (2.0, 60.0)):
        plant.configure(airflow, {})
        got = drive(plant, dt_s, [0.65], ambient_c=ambient_c)
        node_c = solve_ivp(
            rate, (0, dt_s), node_c, method="Radau", args=(airflow,), rtol=1e-10, atol=1e-10
        ).y[:, -1]
        np.testing.assert_allclose(got, node_c, atol=SOLVER_K)


def massless(**parts):
    """A rim without capacity, soldered to nothing, that sheds what the board gives it."""
    nodes = NODES | {"rim": {}, "skirt": {}}
    links = (
        *PASTE,
        {"between": ("sink", "rim"), "resistance_k_per_w": 1.5},
        {"between": ("rim", "skirt"), "resistance_k_per_w": 4.0},
    )
    surfaces = {"rim": RIM | {"of": "rim"}, "skirt": RIM | {"of": "skirt"}}
    return lamp(STRONG, nodes=nodes, links=links, surfaces=surfaces, **parts)


def test_a_massless_node_sheds_what_flows_into_it():
    """Without capacity heat in equals heat out at every instant, and the books still close."""
    plant = Plant(massless())
    start_c = plant.node_c.copy()
    exchange = exchange_of(plant.lamp, {"rim": 0, "skirt": 1})
    rim, skirt, sink = (plant.node_index(name) for name in ("rim", "skirt", "sink"))
    for dt_s, duty in ((0.05, 1.0), (200.0, 1.0), (40.0, 0.0)):
        drive(plant, dt_s, [duty])
        drive(plant, 1e-9, [duty])  # what follows at once is right at the beginning of a step
        node_c = plant.node_c
        between_w = (node_c[rim] - node_c[skirt]) / 4.0
        shed_w = [heat_out_w(exchange, s, node_c[i], 25.0, 1.0) for s, i in ((0, rim), (1, skirt))]
        assert shed_w[1] == pytest.approx(between_w, rel=1e-7, abs=1e-9)
        from_sink_w = (node_c[sink] - node_c[rim]) / 1.5
        assert shed_w[0] == pytest.approx(from_sink_w - between_w, rel=1e-7, abs=1e-9)
    assert missing_j(plant, start_c) == pytest.approx(0.0, abs=ENERGY)


def test_a_massless_surface_is_the_limit_of_a_light_one():
    """A rim of a thousandth of a joule per kelvin behaves as one of none."""
    none = Plant(massless())
    light = Plant(
        massless().with_changes({"nodes.rim.capacitance": 1e-3, "nodes.skirt.capacitance": 1e-3})
    )
    for dt_s, duty in ((60.0, 1.0), (300.0, 0.5)):
        got, desired = drive(none, dt_s, [duty]), drive(light, dt_s, [duty])
        np.testing.assert_allclose(got, desired, atol=2e-3)


def test_dark_lamp_between_two_ambients():
    """A lamp that begins in equilibrium with ambients far apart stays there."""
    surfaces = {"fins": FINS, "rim": RIM | {"to": "room"}}
    plant = Plant(shedding(surfaces=surfaces, ambients=("ambient", "room")))
    plant.reset(np.array([20.0, 80.0]))
    begin_c = plant.node_c.copy()
    assert np.all((begin_c > 20.0) & (begin_c < 80.0))
    for _ in range(20):
        drive(plant, 60.0, [0.0], ambient_c=[20.0, 80.0])
    np.testing.assert_allclose(plant.node_c, begin_c, atol=AT_REST_K)


def test_replay_follows_the_airflow():
    """Recorded airflow leads to the same temperatures; halved steps measure a small error."""
    plant = Plant(shedding())
    rows = {name: [] for name in ("dt_s", *Interval._fields, "configuration")}
    node_c = []
    for k in range(60):
        plant.configure(1.0 + np.sin(k / 5.0), {"paste": 2.0} if k >= 30 else {})
        interval = (np.array([0.9]), np.ones(1), np.array([25.0]), np.zeros(1))
        plant.advance(2.0, *interval)
        row = (2.0, *interval, plant.airflow.copy(), plant.configuration)
        for name, value in zip(rows, row, strict=True):
            rows[name].append(value)
        node_c.append(plant.node_c.copy())
    intervals = {name: np.array(column) for name, column in rows.items()}
    np.testing.assert_allclose(plant.replay(intervals), node_c, rtol=1e-12)
    error_k = np.abs(plant.replay(intervals, halved=True) - node_c).max()
    assert 0.0 < error_k < STEPS_K
    assert len(plant.modes) == 2
