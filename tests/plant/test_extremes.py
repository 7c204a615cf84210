"""What happens between ticks: peaks and times above limits, against closed forms and sampling."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.plant.extremes import SETTLED_K
from tests.plant.rig import Rig, network_of, networks

ROUNDING = 1e-12
"""Relative: closed forms differ only by rounding."""
SAMPLES = 4001
"""Points of the dense sampling; its own error is the curvature between two of them."""


def sampled(network, start_c, heat_w, ambient_c, dt_s):
    """Times [s] and node temperatures, graded towards the beginning."""
    times = np.concatenate(([0.0], np.geomspace(1e-9 * dt_s, dt_s, SAMPLES)))
    rig = Rig(network, start_c)
    rows = [start_c]
    for step in np.diff(times):
        rows.append(rig.advance(step, heat_w, ambient_c))
    return times, np.array(rows)


def test_peak_of_a_node_that_overshoots_between_ticks():
    """Heat flowing from a hot node through a cold one: the peak in closed form, within one call."""
    c1, c2, g1, g2 = 0.5, 1.0, 1.0, 0.5
    rig = Rig(network_of([c1, c2], [(0, 1, g1)], [(1, 0, g2)]), [80.0, 0.0])
    rig.advance(50.0, [0.0, 0.0])
    b, product = g1 / c1 + (g1 + g2) / c2, g1 * g2 / (c1 * c2)
    fast, slow = (b + np.sqrt(b * b - 4 * product)) / 2, (b - np.sqrt(b * b - 4 * product)) / 2
    at_s = np.log(fast / slow) / (fast - slow)
    height = 80.0 * g1 / c2 / (fast - slow) * (np.exp(-slow * at_s) - np.exp(-fast * at_s))
    assert rig.tally.peak_c[1] == pytest.approx(height, rel=ROUNDING)
    assert rig.tally.peak_at_s[1] == pytest.approx(at_s, rel=1e-7)  # flat top: root of rounding


def test_time_above_a_limit_in_closed_form():
    """Cooling of one pole: the time above a limit is tau ln(start / limit); warming likewise."""
    cooling = Rig(network_of([2.0], [], [(0, 0, 0.2)]), [80.0], [30.0])
    cooling.advance(100.0, [0.0])
    assert cooling.tally.above_s[0] == pytest.approx(10.0 * np.log(80.0 / 30.0), rel=ROUNDING)
    warming = Rig(network_of([2.0], [], [(0, 0, 0.2)]), [0.0], [30.0])
    warming.advance(100.0, [10.0])
    assert warming.tally.above_s[0] == pytest.approx(100.0 + 10.0 * np.log(0.4), rel=ROUNDING)


def test_time_above_does_not_depend_on_the_calls():
    """Many short calls book the same time above the limit as one long call."""
    network = network_of([0.5, 1.0], [(0, 1, 1.0)], [(1, 0, 0.5)])
    one, many = (Rig(network, [80.0, 0.0], [40.0, 20.0]) for _ in range(2))
    one.advance(6.0, [0.0, 0.0])
    for _ in range(600):
        many.advance(0.01, [0.0, 0.0])
    np.testing.assert_allclose(many.tally.above_s, one.tally.above_s, rtol=1e-9)
    np.testing.assert_allclose(many.tally.peak_c, one.tally.peak_c, atol=SETTLED_K)


@given(
    network=networks(),
    starts=st.lists(st.floats(-40, 150), min_size=6, max_size=6),
    heats=st.lists(st.floats(0, 5), min_size=6, max_size=6),
    dt_s=st.floats(0.01, 30.0),
)
@settings(deadline=None, max_examples=15)
def test_peaks_and_times_against_dense_sampling(network, starts, heats, dt_s):
    """One call finds the peaks and the times above limits that dense sampling shows."""
    nodes, ambients = network.ambient_w_per_k.shape
    heavy = network.heavy
    start_c, heat_w = np.array(starts[:nodes]), np.array(heats[:nodes])
    ambient_c, limits_c = np.array([25.0, -10.0])[:ambients], np.full(nodes, 40.0)
    rig = Rig(network, start_c, limits_c)
    rig.advance(dt_s, heat_w, ambient_c)
    times, node_c = sampled(network, start_c, heat_w, ambient_c, dt_s)
    between = np.abs(np.diff(node_c[1:], axis=0)).max(axis=0)  # a node may peak between samples
    peaks = np.maximum(node_c.max(axis=0), np.where(heavy, -np.inf, start_c))
    assert np.all(rig.tally.peak_c >= peaks - SETTLED_K)
    assert np.all(rig.tally.peak_c <= peaks + between + SETTLED_K)
    above = (node_c[1:] > limits_c) & (node_c[:-1] > limits_c)
    crossing = (node_c[1:] > limits_c) != (node_c[:-1] > limits_c)
    steps = np.diff(times)
    low, spare = steps @ above, steps @ crossing
    late = steps[np.argmin(np.abs(node_c[1:] - limits_c), axis=0)]  # touches between two samples
    assert np.all(rig.tally.above_s >= low - late - 1e-9)
    assert np.all(rig.tally.above_s <= low + spare + late + 1e-9)


def test_periodic_pulses_reach_the_closed_form():
    """Pulses through one pole: peak P R (1 - e^(-on/tau)) / (1 - e^(-period/tau)) in the end."""
    tau_s, on_s, period_s, rise_k = 10.0, 2.0, 5.0, 40.0
    rig = Rig(network_of([2.0], [], [(0, 0, 0.2)]), 0.0)
    for _ in range(40):
        peak_k = rig.advance(on_s, [rise_k / 5.0])[0]
        valley_k = rig.advance(period_s - on_s, [0.0])[0]
    share = np.expm1(-on_s / tau_s) / np.expm1(-period_s / tau_s)
    assert peak_k == pytest.approx(rise_k * share, rel=1e-8)  # e^(-200/10) is left of the start
    assert valley_k == pytest.approx(peak_k * np.exp(-(period_s - on_s) / tau_s), rel=ROUNDING)
    assert rig.tally.peak_c[0] == pytest.approx(peak_k, abs=SETTLED_K)


def test_peak_of_a_massless_node_at_the_jump():
    """A massless node jumps with its heat; its peak is at the jump, not at the end of the call."""
    network = network_of([1.0, 0.0], [(0, 1, 1.0)], [(0, 0, 1.0), (1, 0, 1.0)])
    rig = Rig(network, [50.0, 25.0])
    rig.advance(10.0, [0.0, 4.0])
    assert rig.tally.peak_c[1] == pytest.approx((4.0 + 50.0) / 2.0, rel=ROUNDING)
    assert rig.tally.peak_at_s[1] == 0.0
