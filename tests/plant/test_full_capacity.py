"""Networks whose capacities are a full matrix, as a board's are."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from derate.plant.modes import modes_of
from derate.plant.network import Network
from tests.plant.rig import Rig, network_of, networks

COORDINATES = 1e-7
"""Relative: rates up to 1e6 apart, mixed and unmixed, lose that many of sixteen digits twice."""
SOLVER = 1e-8
"""Relative: scipy's exponential of a matrix whose rates lie far apart."""
ENERGY = 1e-9
"""Relative: what the plant promises."""
DIGITS = 1e-11
"""Relative: 1e-3 W/K stands on the diagonal beside 10 W/K and keeps twelve digits there."""
TINY_CAPACITY = 1e-6
"""Of a joule per kelvin: settles within microseconds, differs from none by about this share."""


def mixed(network, seed, share=0.3):
    """The same body in other coordinates, each still 1 where the body is uniformly 1 warm.

    Massless nodes stay what they are. Returns the network and W with T = W T'.
    """
    heavy = np.flatnonzero(network.heavy)
    shape = np.eye(len(network.names))
    random = np.random.default_rng(seed).uniform(-share, share, (len(heavy), len(heavy)))
    random -= np.diag(random.sum(axis=1))
    shape[np.ix_(heavy, heavy)] += random / len(heavy)
    turned = Network(
        network.names,
        shape.T @ network.capacitance_j_per_k @ shape,
        shape.T @ network.conductance_w_per_k @ shape,
        shape.T @ network.ambient_w_per_k,
        shape.T @ network.inject,
    )
    return turned, shape


def body():
    """Four nodes, one massless, invented."""
    links = [(0, 1, 2.0), (1, 2, 0.7), (1, 3, 0.4), (2, 3, 0.2)]
    return network_of([0.05, 0.0, 4.0, 60.0], links, [(3, 0, 0.25), (0, 1, 0.02)], 2)


class Mixed(Rig):
    """A rig on a network whose heat inputs are spread over several nodes."""

    def __init__(self, network, shape, start_c):
        super().__init__(network, np.linalg.solve(shape, start_c))
        self.shape = shape

    @property
    def true_c(self):
        """Temperatures in the coordinates of the body."""
        return self.shape @ self.node_c


@given(network=networks(massless=False), t=st.floats(1e-2, 1e2), seed=st.integers(0, 99))
def test_coordinates_do_not_matter(network, t, seed):
    """A body described by a full capacity matrix moves as the one of single capacities."""
    turned, shape = mixed(network, seed)
    nodes = len(network.names)
    heat_w, start_c = np.linspace(1.0, 2.0, nodes), np.linspace(20.0, 60.0, nodes)
    ambient_c = np.array([25.0, -10.0])[: network.ambient_w_per_k.shape[1]]
    plain, full = Rig(network, start_c), Mixed(turned, shape, start_c)
    for dt_s in (0.2 * t, t):
        desired = plain.advance(dt_s, heat_w, ambient_c)
        full.advance(dt_s, heat_w, ambient_c)
    scale_k = np.abs(desired).max() + np.abs(start_c).max()
    np.testing.assert_allclose(full.true_c, desired, atol=COORDINATES * scale_k)
    np.testing.assert_allclose(full.tally.ambient_j, plain.tally.ambient_j, rtol=1e-5, atol=1e-6)


def test_against_the_matrix_exponential():
    """C dT/dt = -G T + q with full C and G equals scipy's exponential of C^-1 G."""
    network, _ = mixed(network_of([0.5, 3.0, 8.0], [(0, 1, 2.0), (1, 2, 0.7)], [(2, 0, 0.3)]), 5)
    heat_w, start_c, t = np.array([2.0, 0.5, 0.0]), np.array([60.0, 30.0, 20.0]), 3.0
    system = np.zeros((4, 4))
    system[:3, :3] = -np.linalg.solve(network.capacitance_j_per_k, network.conductance_w_per_k)
    into = network.inject @ heat_w + network.ambient_w_per_k @ [25.0]
    system[:3, 3] = np.linalg.solve(network.capacitance_j_per_k, into)
    desired = (expm(system * t) @ np.append(start_c, 1.0))[:3]
    rig = Rig(network, start_c)
    np.testing.assert_allclose(rig.advance(t, heat_w, [25.0]), desired, rtol=SOLVER)


def test_massless_nodes_beside_a_full_matrix():
    """Rows of zeros are nodes without capacity: the limit of a tiny one, full matrix or not."""
    network, shape = mixed(body(), 7)
    assert np.all(network.capacitance_j_per_k[1] == 0.0)
    capacity = network.capacitance_j_per_k.copy()
    capacity[1, 1] = TINY_CAPACITY
    tiny = Network(network.names, capacity, *list(vars(network).values())[2:5])
    start_c = np.array([30.0, 30.0, 30.0, 30.0])
    none, some = Mixed(network, shape, start_c), Mixed(tiny, shape, start_c)
    for dt_s, heat_w in ((0.7, [1.0, 2.0, 0.0, 0.0]), (3.0, [0.0, 3.0, 1.0, 0.5])):
        none.advance(dt_s, heat_w, [25.0, -5.0])
        some.advance(dt_s, heat_w, [25.0, -5.0])
        np.testing.assert_allclose(none.true_c, some.true_c, rtol=10 * TINY_CAPACITY)


def test_reciprocity_and_energy():
    """With a full matrix a watt into i still warms j as j's warms i, and no joule is lost."""
    network, shape = mixed(body(), 11)
    rise = np.array(
        [Mixed(network, shape, np.zeros(4)).advance(2.0, row, [0.0, 0.0]) for row in np.eye(4)]
    )
    seen = rise @ network.inject
    np.testing.assert_allclose(seen, seen.T, rtol=1e-10)
    rig = Mixed(network, shape, np.full(4, 25.0))
    rig.advance(5.0, [1.0, 2.0, 0.5, 0.0], [25.0, 10.0])
    rig.advance(40.0, [0.0, 2.0, 0.5, 3.0], [25.0, 10.0])
    stored_j = (network.capacitance_j_per_k @ (rig.node_c - 25.0)).sum()
    put_in_j = rig.tally.heat_j.sum()
    assert put_in_j - stored_j - rig.tally.ambient_j.sum() == pytest.approx(
        0.0, abs=ENERGY * put_in_j
    )


def test_single_capacities_keep_all_digits():
    """Rates 1e8 apart: the product of all equals that of the conductances over the capacities."""
    network = network_of([1e-3, 5.0, 500.0], [(0, 1, 0.5), (1, 2, 10.0)], [(2, 0, 1e-3)])
    rate = modes_of(network).rate
    assert rate.max() / rate.min() > 1e8
    assert np.prod(rate) == pytest.approx(0.5 * 10.0 * 1e-3 / (1e-3 * 5.0 * 500.0), rel=DIGITS)
