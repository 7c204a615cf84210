"""Thermal impedance curves against matrix exponentials, solved equations and the ladder forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from derate.errors import InputError
from derate.plant.ladder import cauer_to_foster, foster_to_cauer
from derate.plant.zth import foster_form, impedance, modal_impedance, steps
from tests.plant.rig import network_of, networks

ROUNDING = 1e-9
"""Relative to the larger of the curves: matrix exponentials of rates six decades apart."""
SAME_LADDER = 1e-12
"""Relative: modes by rotations of a matrix, whose diagonal sums swallow digits, against the
conversion of the ladder, which keeps them all."""
AFTER_S = np.geomspace(1e-4, 1e5, 7)


def chain_of(r, c):
    """The network of a Cauer ladder, heated end first, its far end on the ambient."""
    links = [(i, i + 1, 1 / r[i]) for i in range(len(r) - 1)]
    return network_of(c, links, [(len(r) - 1, 0, 1 / r[-1])])


@given(networks(massless=False), st.data())
def test_impedance_is_the_step_response(network, data):
    """Z equals (1 - exp(-C^-1 G t)) G^-1 by dense algebra, at once, on the way and at rest."""
    nodes = st.integers(0, len(network.names) - 1)
    i, j = data.draw(nodes), data.draw(nodes)
    at_rest = np.linalg.inv(network.conductance_w_per_k)
    rate = network.conductance_w_per_k / np.diag(network.capacitance_j_per_k)[:, None]
    got = impedance(network, f"n{i}", f"n{j}", AFTER_S)
    for time_s, value in zip(AFTER_S, got, strict=True):
        passed = np.eye(len(rate)) - expm(-rate * time_s)
        assert value == pytest.approx((passed @ at_rest)[i, j], abs=ROUNDING * at_rest.max())
    assert impedance(network, f"n{i}", f"n{j}", 0.0) == 0.0


@given(networks(), st.data())
def test_at_rest_it_is_the_resistance(network, data):
    """After a long time Z is the element of the inverse conductances, massless nodes or not."""
    nodes = st.integers(0, len(network.names) - 1)
    i, j = data.draw(nodes), data.draw(nodes)
    at_rest = np.linalg.inv(network.conductance_w_per_k)
    got = modal_impedance(network, f"n{i}", f"n{j}")
    assert got.steady_k_per_w == pytest.approx(at_rest[i, j], abs=ROUNDING * at_rest.max())
    slowest_s = got.time_constant_s.max()
    assert got.after(60 * slowest_s) == pytest.approx(got.steady_k_per_w, rel=1e-12)


@given(networks(), st.data())
def test_impedance_is_reciprocal_and_linear(network, data):
    """Node and heated node may change places; a drop is the difference of two rises."""
    nodes = st.sampled_from(network.names)
    node, heated, reference = data.draw(nodes), data.draw(nodes), data.draw(nodes)
    one = impedance(network, node, heated, AFTER_S)
    scale = np.linalg.inv(network.conductance_w_per_k).max()
    np.testing.assert_allclose(one, impedance(network, heated, node, AFTER_S), atol=1e-12 * scale)
    drop = impedance(network, node, heated, AFTER_S, reference=reference)
    other = impedance(network, reference, heated, AFTER_S)
    np.testing.assert_allclose(drop, one - other, atol=1e-12 * scale)


@given(networks(), st.data())
def test_a_heated_node_only_ever_warms(network, data):
    """Z of a node for its own heat rises from its first value to its last, never back."""
    node = data.draw(st.sampled_from(network.names))
    own = modal_impedance(network, node, node)
    assert own.at_once_k_per_w >= 0.0
    assert (own.resistance_k_per_w >= -1e-15 * own.steady_k_per_w).all()


@pytest.mark.parametrize("stages", [1, 2, 5, 9])
def test_foster_form_is_that_of_the_ladder(stages):
    """Time constants of ten decades from milliseconds to months come out as by the ladder."""
    draw = np.random.default_rng(stages)
    r = 10.0 ** draw.uniform(-1, 1, stages)
    c = np.geomspace(1e-4, 1e6, stages) if stages > 1 else np.array([1.0])
    got, expected = foster_form(chain_of(r, c), "n0"), cauer_to_foster(r, c)
    np.testing.assert_allclose(got, expected, rtol=SAME_LADDER)


@given(networks(massless=False), st.data())
def test_foster_form_says_all_of_a_one_port(network, data):
    """The ladder made of a node's Foster form warms as the node does, whatever hangs behind it."""
    node = data.draw(st.sampled_from(network.names))
    direct = impedance(network, node, node, AFTER_S)
    ladder = chain_of(*foster_to_cauer(*foster_form(network, node)))
    np.testing.assert_allclose(
        impedance(ladder, "n0", "n0", AFTER_S), direct, atol=ROUNDING * direct.max()
    )


def test_a_massless_node_jumps():
    """A watt into a massless node lifts it by its resistance to the node behind, at once."""
    network = network_of([0.0, 2.0], [(0, 1, 1 / 3.0)], [(1, 0, 0.25)])
    seen = modal_impedance(network, "n0", "n0")
    assert seen.at_once_k_per_w == pytest.approx(3.0, rel=1e-12)
    assert seen.after([0.0, 8.0, 1e9]) == pytest.approx([3.0, 3.0 + 4 * (1 - np.exp(-1)), 7.0])
    with pytest.raises(InputError, match=r'"n0": found no capacitance, .* jumps by 3 K/W'):
        foster_form(network, "n0")


def test_times_keep_their_shape():
    """A single time gives a single value, a table a table."""
    seen = modal_impedance(chain_of([1.0], [1.0]), "n0", "n0")
    assert seen.after(1.0).shape == ()
    assert seen.after(np.ones((2, 3))).shape == (2, 3)


@pytest.mark.parametrize("wrong", [("n9", "n0", None), ("n0", "n9", None), ("n0", "n0", "n9")])
def test_names_that_are_no_node(wrong):
    """A name that is no node is refused together with those that are."""
    network, (node, heated, reference) = chain_of([1.0, 2.0], [1.0, 2.0]), wrong
    with pytest.raises(InputError, match='found "n9", due a node: one of n0, n1'):
        modal_impedance(network, node, heated, reference=reference)


@given(networks(), st.data())
def test_a_pattern_of_heat_is_the_sum_of_its_parts(network, data):
    """Heat in several nodes at once lifts each node by the sum of what each part does."""
    share = st.floats(0.0, 3.0)
    heat = np.array([[data.draw(share) for _ in range(2)] for _ in network.names])
    node = data.draw(st.sampled_from(network.names))
    for column, step in zip(heat.T, steps(network, heat), strict=True):
        parts = sum(
            part * impedance(network, node, heated, AFTER_S)
            for part, heated in zip(column, network.names, strict=True)
        )
        np.testing.assert_allclose(step.of(node).after(AFTER_S), parts, rtol=ROUNDING, atol=1e-12)


def test_without_a_way_out_it_rises_for_good():
    """In a lump cut off from the ambient by next to nothing Z grows as time over capacity."""
    network = network_of([2.0, 3.0], [(0, 1, 10.0)], [(0, 0, 1e-300)])
    late = impedance(network, "n0", "n0", [1e4, 2e4])
    assert np.diff(late)[0] == pytest.approx(1e4 / 5.0, rel=1e-6)
