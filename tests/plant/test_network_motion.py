"""The linear network: exact in time whatever the step."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from derate.plant.eigen import eigen
from derate.plant.modes import modes_of
from tests.plant.rig import Rig, network_of, networks

ROUNDING = 1e-12
"""Relative: closed forms differ only by rounding in sums of a few exponentials."""
SPLIT_K = 1e-9
"""Rises of up to 1e3 K through up to ten roundings of 1e-13 each."""
ENERGY = 1e-9
"""Relative: what the lamp promises; flows of both signs cancel in the sums."""
SOLVER = 1e-8
"""Relative: solve_ivp is asked for 1e-10 and gathers its errors over many steps."""
TINY_CAPACITY = 1e-6
"""Of a joule per kelvin: settles within microseconds, differs from none by about this share."""


def single_pole(resistance=5.0, capacitance=2.0):
    return network_of([capacitance], [], [(0, 0, 1 / resistance)])


def ladder():
    """Junction - board - sink - ambient, invented."""
    return network_of([0.01, 4.0, 60.0], [(0, 1, 0.2), (1, 2, 1.5)], [(2, 0, 0.25)])


@pytest.mark.parametrize("t", [1e-6, 0.1, 1.0, 10.0, 100.0, 1e5])
def test_single_pole_step(t):
    """One resistance and one capacity: T = P R (1 - e^(-t / RC))."""
    got = Rig(single_pole(), 0.0).advance(t, [3.0])[0]
    assert got == pytest.approx(-15.0 * np.expm1(-t / 10.0), rel=ROUNDING)


@pytest.mark.parametrize("t", [1e-3, 0.5, 3.0, 40.0])
def test_two_pole_step(t):
    """Two stages: the step response is the sum of two exponentials of the textbook quadratic."""
    c1, c2, g1, g2, power = 0.3, 5.0, 0.8, 0.25, 2.0
    got = Rig(network_of([c1, c2], [(0, 1, g1)], [(1, 0, g2)]), 0.0).advance(t, [power, 0.0])[0]
    b, product = g1 / c1 + (g1 + g2) / c2, g1 * g2 / (c1 * c2)
    fast, slow = (b + np.sqrt(b * b - 4 * product)) / 2, (b - np.sqrt(b * b - 4 * product)) / 2
    final = power * (1 / g1 + 1 / g2)
    start_speed = power / c1
    a_slow = (start_speed - final * fast) / (slow - fast)
    desired = final - a_slow * np.exp(-slow * t) - (final - a_slow) * np.exp(-fast * t)
    assert got == pytest.approx(desired, rel=1e3 * ROUNDING)


@pytest.mark.parametrize("t", [1e-3, 1.0, 30.0, 1e3])
def test_superposition(t):
    """The response to two heats and an ambient is the sum of the responses to each."""
    first = Rig(ladder(), 0.0).advance(t, [2.0, 0.0, 0.0], [0.0])
    second = Rig(ladder(), 0.0).advance(t, [0.0, 5.0, 1.0], [0.0])
    third = Rig(ladder(), 0.0).advance(t, [0.0, 0.0, 0.0], [30.0])
    together = Rig(ladder(), 0.0).advance(t, [2.0, 5.0, 1.0], [30.0])
    np.testing.assert_allclose(together, first + second + third, rtol=ROUNDING)


@given(network=networks(), t=st.floats(1e-4, 1e4))
@settings(deadline=None, max_examples=40)
def test_reciprocity(network, t):
    """A watt into i warms j as much as a watt into j warms i, at every instant."""
    nodes = len(network.names)
    ambient = np.zeros(network.ambient_w_per_k.shape[1])
    rise = np.array([Rig(network, 0.0).advance(t, row, ambient) for row in np.eye(nodes)])
    np.testing.assert_allclose(rise, rise.T, atol=ROUNDING * max(1.0, np.abs(rise).max()))


@given(network=networks())
@settings(deadline=None, max_examples=40)
def test_steady_state(network):
    """For t to infinity the temperatures are G^-1 (q + G_ambient a)."""
    heat_w = np.linspace(0.5, 2.0, len(network.names))
    ambient_c = np.array([25.0, -10.0])[: network.ambient_w_per_k.shape[1]]
    got = Rig(network, 0.0).advance(1e12, heat_w, ambient_c)
    desired = np.linalg.solve(
        network.conductance_w_per_k, heat_w + network.ambient_w_per_k @ ambient_c
    )
    np.testing.assert_allclose(got, desired, rtol=1e2 * ROUNDING, atol=1e2 * ROUNDING)


def test_nothing_happens_in_no_time():
    """For t to 0 a node of capacity keeps its temperature and moves at q / C."""
    got = Rig(ladder(), 20.0).advance(1e-9, [3.0, 0.0, 0.0], [20.0])
    np.testing.assert_allclose(got[1:], 20.0, rtol=ROUNDING)
    assert got[0] - 20.0 == pytest.approx(3.0 * 1e-9 / 0.01, rel=1e-6)


@given(
    network=networks(),
    parts=st.lists(st.floats(1e-6, 10.0), min_size=1, max_size=10),
    start_c=st.floats(-40, 100),
)
@settings(deadline=None, max_examples=60)
def test_splitting_an_interval_changes_nothing(network, parts, start_c):
    """Under constant heat any way of cutting the interval gives the same temperatures."""
    heat_w = np.linspace(1.0, 2.0, len(network.names))
    ambient_c = np.array([25.0, -10.0])[: network.ambient_w_per_k.shape[1]]
    whole, cut = Rig(network, start_c), Rig(network, start_c)
    for part in parts:
        cut.advance(part, heat_w, ambient_c)
    whole.advance(float(np.sum(parts)), heat_w, ambient_c)
    np.testing.assert_allclose(cut.node_c, whole.node_c, rtol=ROUNDING, atol=SPLIT_K)


@given(network=networks(massless=False), t=st.floats(1e-3, 1e2))
@settings(deadline=None, max_examples=40)
def test_against_matrix_exponential(network, t):
    """The modal form equals the exponential of the whole system's matrix (scipy's expm)."""
    nodes = len(network.names)
    heat_w = np.linspace(1.0, 2.0, nodes)
    ambient_c = np.array([25.0, -10.0])[: network.ambient_w_per_k.shape[1]]
    start_c = np.linspace(20.0, 60.0, nodes)
    system = np.zeros((nodes + 1, nodes + 1))
    capacity = np.diag(network.capacitance_j_per_k)
    system[:nodes, :nodes] = -network.conductance_w_per_k / capacity[:, None]
    system[:nodes, nodes] = (heat_w + network.ambient_w_per_k @ ambient_c) / capacity
    desired = (expm(system * t) @ np.append(start_c, 1.0))[:nodes]
    got = Rig(network, start_c).advance(t, heat_w, ambient_c)
    np.testing.assert_allclose(got, desired, rtol=SOLVER)


def test_against_a_general_solver():
    """A stiff ladder agrees with scipy's general integrator."""
    network = ladder()
    heat_w, ambient_c = np.array([4.0, 1.0, 0.0]), np.array([25.0])

    def slope(_, node_c):
        flow = heat_w + network.ambient_w_per_k @ ambient_c - network.conductance_w_per_k @ node_c
        return flow / np.diag(network.capacitance_j_per_k)

    desired = solve_ivp(
        slope, (0, 50.0), np.full(3, 25.0), method="Radau", rtol=1e-10, atol=1e-10
    ).y[:, -1]
    got = Rig(network, 25.0).advance(50.0, heat_w, ambient_c)
    np.testing.assert_allclose(got, desired, rtol=SOLVER)


def test_massless_node_is_the_limit_of_a_tiny_capacity():
    """Eliminating a node gives what a vanishing capacity tends to, heat and ambient on it too."""
    links, ambient_links = [(0, 1, 0.4), (1, 2, 0.8)], [(1, 1, 0.1), (2, 0, 0.3)]
    none = Rig(network_of([0.5, 0.0, 8.0], links, ambient_links, 2), 20.0)
    tiny = Rig(network_of([0.5, TINY_CAPACITY, 8.0], links, ambient_links, 2), 20.0)
    for dt_s, heat_w in ((0.7, [1.0, 2.0, 0.0]), (3.0, [0.0, 3.0, 1.0])):
        got = none.advance(dt_s, heat_w, [25.0, -5.0])
        desired = tiny.advance(dt_s, heat_w, [25.0, -5.0])
        np.testing.assert_allclose(got, desired, rtol=10 * TINY_CAPACITY)


def test_without_a_way_out_heat_only_gathers():
    """A network cut off from every ambient warms by q t / C for ever."""
    got = Rig(network_of([2.0, 3.0], [(0, 1, 1.0)], []), 20.0).advance(1e4, [1.0, 0.0], [0.0])
    assert np.average(got, weights=[2.0, 3.0]) == pytest.approx(20.0 + 1e4 / 5.0, rel=1e-9)


def test_small_eigenvalues_stay_exact_beside_large_ones():
    """Rates 1e12 apart: the determinant still equals the product of the eigenvalues."""
    matrix = np.array([[1e9, 1e3, 0.0], [1e3, 1.0, 1e-4], [0.0, 1e-4, 1e-3]])
    values, vectors = eigen(matrix)
    d = matrix
    determinant = d[0, 0] * (d[1, 1] * d[2, 2] - d[1, 2] ** 2) - d[0, 1] ** 2 * d[2, 2]
    assert np.prod(values) == pytest.approx(determinant, rel=ROUNDING)
    np.testing.assert_allclose(vectors @ np.diag(values) @ vectors.T, matrix, rtol=1e-9, atol=1e-7)
    np.testing.assert_allclose(vectors.T @ vectors, np.eye(3), atol=ROUNDING)


@given(network=networks())
@settings(deadline=None, max_examples=40)
def test_eigenvalues_agree_with_the_usual_routine(network):
    """Jacobi rotations find what numpy finds, to numpy's absolute accuracy."""
    conductance = network.conductance_w_per_k
    got = np.sort(eigen(conductance)[0])
    np.testing.assert_allclose(got, np.linalg.eigvalsh(conductance), atol=1e-11)


def test_rates_are_never_negative():
    """A passive network has no growing mode, not even by rounding."""
    assert np.all(modes_of(network_of([1.0, 1.0], [(0, 1, 1.0)], [])).rate >= 0)


@given(network=networks(), t=st.floats(1e-3, 1e3))
@settings(deadline=None, max_examples=60)
def test_energy_balance(network, t):
    """Heat put in = heat stored + heat given to the ambients, whatever the network."""
    heat_w = np.linspace(1.0, 2.0, len(network.names))
    ambient_c = np.array([25.0, -10.0])[: network.ambient_w_per_k.shape[1]]
    rig = Rig(network, 25.0)
    start_c, put_in_j = rig.node_c, 0.0
    for dt_s in (0.3 * t, 0.7 * t):
        rig.advance(dt_s, heat_w, ambient_c)
        put_in_j += heat_w.sum() * dt_s
        heat_w = 2.0 * heat_w[::-1]
    stored_j = (network.capacitance_j_per_k @ (rig.node_c - start_c)).sum()
    out_j = rig.tally.ambient_j
    assert rig.tally.heat_j.sum() == pytest.approx(put_in_j, rel=ROUNDING)
    scale_j = put_in_j + np.abs(out_j).sum() + abs(stored_j)
    held_j = np.diag(network.capacitance_j_per_k) @ np.abs(rig.node_c)  # known to the digits of T
    allowed_j = ENERGY * scale_j + ROUNDING * held_j
    assert put_in_j - stored_j - out_j.sum() == pytest.approx(0.0, abs=allowed_j)
