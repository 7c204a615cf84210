"""The crest of the PWM ripple: against switched current, closed forms and limits."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.plant.modes import modes_of
from derate.plant.plant import Plant
from derate.plant.ripple import SHORT, crest, ripple_k, swing
from tests.plant.invented import CHANNEL, WHITE, drive, lamp, twelve_nodes
from tests.plant.rig import Rig, networks

ROUNDING = 1e-9
"""Relative: differences of exponentials close to each other."""
SWITCHED = 1e-4
"""Relative to the crest: what the slow modes keep of how the pulses began."""
EMITTER = 0.02
"""Relative to the crest: that heat follows the junction within the period is left out of it."""
SETTLING_S = 0.3
"""Thirty time constants of the junctions, after which only the pulses are left of how it began."""
SERIES = 1e-6
"""Relative: the first term left out where the series begins."""
STEADY_HEAT = WHITE | {
    "forward_voltage_slope_v_per_k": 0.0,
    "radiant_ratio": (1.0,) * 5,
    "luminous_ratio": (1.0,) * 5,
}
"""An emitter whose heat does not depend on its temperature, so that the crest is exact."""


def at_rest(plant, duties, *, minutes=600):
    """The plant after a long time of constant drive."""
    for _ in range(minutes):
        drive(plant, 60.0, duties)
    return plant


def switched(plant, duties):
    """Highest temperature of every node [degC] while the current is really switched.

    From the temperatures of ``plant``, whole pulses of full current, all channels beginning each
    period together; it starts halfway through the shortest pulse, where the slow ripple is zero.
    """
    period_s = 1.0 / plant.lamp.driver.frequency_hz
    periods = int(max(40, SETTLING_S / period_s))
    brute = Plant(plant.lamp)
    brute.reset(np.full(len(plant.lamp.ambients), 25.0), None, plant.node_c.copy())
    turns = np.unique(np.concatenate(([0.0, 1.0], duties)))
    first = min(duties) / 2
    highest_c = np.full(len(brute.node_names), -np.inf)
    for number in range(periods):
        for begin, end in itertools.pairwise(turns):
            lit = (np.array(duties) > begin).astype(float)
            skipped = first if number == 0 and begin == 0.0 else 0.0
            node_c = drive(brute, period_s * (end - begin - skipped), lit)
            if number >= periods - 2:
                highest_c = np.maximum(highest_c, node_c)
    return highest_c


@pytest.mark.parametrize("duty", [0.02, 0.3, 0.5, 0.9])
@pytest.mark.parametrize("frequency_hz", [50.0, 1000.0, 20000.0])
def test_crest_is_that_of_switched_current(duty, frequency_hz):
    """Mean plus crest is the peak when the current is switched on and off, period by period."""
    plant = Plant(lamp(emitters={"white": STEADY_HEAT}, driver={"frequency_hz": frequency_hz}))
    at_rest(plant, [duty])
    junction = plant.junctions["main"][0]
    crest_k = switched(plant, [duty])[junction] - plant.node_c[junction]
    assert plant.ripple_k[junction] == pytest.approx(crest_k, rel=SWITCHED, abs=1e-9)
    assert plant.state.ripple_k[0] == pytest.approx(plant.ripple_k[junction], rel=ROUNDING)


def test_crest_of_a_real_emitter():
    """With heat that falls as the junction warms the crest is right to a few percent of itself."""
    plant = at_rest(Plant(lamp(driver={"frequency_hz": 100.0})), [0.4])
    junction = plant.junctions["main"][0]
    crest_k = switched(plant, [0.4])[junction] - plant.node_c[junction]
    assert crest_k > 0.5
    assert plant.ripple_k[junction] == pytest.approx(crest_k, rel=EMITTER)


def test_several_channels_are_on_the_safe_side():
    """Channels of unequal duty: never below the switched peak, and hardly above it."""
    plant = Plant(twelve_nodes().with_changes({"driver.frequency": "100 Hz"}))
    at_rest(plant, [0.3, 0.7])
    peak_c = switched(plant, [0.3, 0.7])
    for channel in ("wide", "spot"):
        junctions = plant.junctions[channel]
        crest_k = peak_c[junctions] - plant.node_c[junctions]
        assert np.all(plant.ripple_k[junctions] > crest_k * (1 - EMITTER))
        assert np.all(plant.ripple_k[junctions] < crest_k * (1 + EMITTER))


def test_peaks_and_times_count_the_crest():
    """The peak of a junction at rest is its mean plus the crest, and so is what passes a limit."""
    channel = CHANNEL | {"junction_limit_c": 110.0}
    plant = Plant(lamp({"main": channel}, driver={"frequency_hz": 100.0}))
    at_rest(plant, [0.4])
    junction = plant.junctions["main"][0]
    crest_k = plant.ripple_k[junction]
    assert plant.tally.peak_c[junction] == pytest.approx(plant.node_c[junction] + crest_k, abs=1e-4)
    other = np.arange(len(plant.node_c)) != junction
    np.testing.assert_allclose(plant.tally.peak_c[other], plant.node_c[other], atol=1e-4)
    for above_k, share in ((0.5 * crest_k, 1.0), (1.5 * crest_k, 0.0)):
        limit = {"main": channel | {"junction_limit_c": float(plant.node_c[junction] + above_k)}}
        again = Plant(lamp(limit, driver={"frequency_hz": 100.0}))
        again.reset(np.array([25.0]), None, plant.node_c.copy())
        drive(again, 10.0, [0.4])
        assert again.tally.above_s[junction] == pytest.approx(10.0 * share, abs=1e-9)


def test_no_ripple_without_pulses():
    """Full duty, no duty and current dimming leave nothing to ripple."""
    for duty in (0.0, 1.0):
        plant = Plant(lamp())
        drive(plant, 5.0, [duty])
        assert np.all(plant.ripple_k == 0.0)
        assert np.all(plant.state.ripple_k == 0.0)
    dimmed = Plant(lamp(driver={"dimming": "current"}))
    drive(dimmed, 5.0, [0.5])
    assert np.all(dimmed.ripple_k == 0.0)
    assert np.all(dimmed.state.ripple_k == 0.0)


def test_the_crest_ends_with_the_pulses():
    """A channel turned to full duty has no crest any more; the other keeps its own."""
    plant = Plant(twelve_nodes())
    drive(plant, 1.0, [0.5, 0.5])
    assert np.all(plant.state.ripple_k > 0.0)
    drive(plant, 1.0, [1.0, 0.5])
    assert np.all(plant.state.ripple_k[:3] < 1e-3 * plant.state.ripple_k[3])


def test_another_configuration_has_its_own_crest():
    """What was kept for one network is not used for another."""
    links = ({"between": ("board", "ambient"), "resistance_k_per_w": 8.0, "name": "way"},)
    nodes = {"board": {"capacitance_j_per_k": 2e-3}}
    plant = Plant(lamp(nodes=nodes, links=links, driver={"frequency_hz": 50.0}))
    drive(plant, 10.0, [0.5])
    before_k = plant.state.ripple_k.copy()
    plant.configure(1.0, {"way": 0.01})
    drive(plant, 10.0, [0.5])
    fresh = Plant(plant.lamp)
    fresh.configure(1.0, {"way": 0.01})
    drive(fresh, 20.0, [0.5])
    assert plant.state.ripple_k[0] == pytest.approx(fresh.state.ripple_k[0], rel=1e-6)
    assert abs(plant.state.ripple_k[0] - before_k[0]) > 0.01 * before_k[0]


@given(x=st.floats(1e-9, 1e5), duty=st.floats(1e-4, 0.9999))
def test_crest_of_a_mode(x, duty):
    """It is positive, below that of an infinitely fast mode and of an infinitely slow one."""
    c = crest(x, duty)
    assert c > 0.0
    assert c * x <= (1.0 - duty) * (1.0 + 1e-9)
    slow = 0.5 * duty * (1.0 - duty)
    assert c <= slow * (1.0 + x)  # for duty below a half it rises first, by less than x / 6
    assert c == pytest.approx(float(swing(np.array([x]), duty, np.array([duty]))[0, 0]), rel=1e-5)


@pytest.mark.parametrize("duty", [0.1, 0.5, 0.8])
def test_series_meets_the_formula(duty):
    """On both sides of the change to the series the crest is the same."""
    below, above = crest(SHORT * (1 - 1e-6), duty), crest(SHORT * (1 + 1e-6), duty)
    assert below == pytest.approx(above, rel=SERIES)


@given(x=st.floats(1e-3, 1e3), duty=st.floats(0.01, 0.99))
def test_the_mean_over_a_period_is_zero(x, duty):
    """What a mode is above and below its mean within a period cancels."""
    on, off = np.linspace(0.0, duty, 20001), np.linspace(duty, 1.0, 20001)
    wave = [swing(np.array([x]), duty, p)[0] for p in (on, off)]
    wave[1][0] = wave[0][-1]
    total = sum(np.trapezoid(w, p) for w, p in zip(wave, (on, off), strict=True))
    assert total == pytest.approx(0.0, abs=1e-4 * np.abs(wave[0]).max())


@given(network=networks(), duty=st.floats(0.05, 0.95), period_s=st.floats(1e-2, 10.0))
def test_ripple_of_any_network(network, duty, period_s):
    """At every node of any network the crest is that of heat switched for many periods."""
    modes = modes_of(network)
    heat_w = np.linspace(1.0, 2.0, len(network.names))
    crest_k = ripple_k(modes, period_s, np.full(len(heat_w), duty), heat_w)
    ambient_c = np.zeros(network.ambient_w_per_k.shape[1])
    mean_c = np.linalg.solve(network.conductance_w_per_k, duty * heat_w)
    rig = Rig(network, mean_c)
    rig.advance(0.5 * duty * period_s, heat_w, ambient_c)
    for _ in range(60):
        rig.advance((1 - duty) * period_s, 0.0 * heat_w, ambient_c)
        rig.tally.peak_c[:] = -np.inf
        rig.advance(duty * period_s, heat_w, ambient_c)
    on_c = rig.node_c.copy()
    rig.advance((1 - duty) * period_s, 0.0 * heat_w, ambient_c)  # some nodes peak after the heat
    highest_c = np.maximum(rig.tally.peak_c, on_c)
    scale_k = np.abs(crest_k).max()
    np.testing.assert_allclose(mean_c + crest_k, highest_c, atol=0.01 * scale_k)
