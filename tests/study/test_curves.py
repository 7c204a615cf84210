"""Derating, thresholds, the best command, safe ambients: curves over ambient and command."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.study.best import best_command, safe_ambients
from derate.study.crossing import crossing
from derate.study.derating import EXACT_C, EXACT_SHARE, HOTTEST_C, derating, permitted, raster
from derate.study.threshold import thresholds
from tests.study.lamps import DRAWN, LUMPED, demo, made, operating, spot

MORE = 2 * EXACT_SHARE
"""A command that is surely beyond what is permitted."""
LESS_C = 20 * EXACT_C
"""An ambient that is surely on the other side: it moves a node by about itself."""
LEAST_MARGIN_K = 1e-6
"""A limit held exactly may be missed by rounding."""


def drooping():
    """A spot whose light falls so steeply with temperature that more current gives less."""
    emitter = spot()["emitters"]["white"] | {
        "current": [0.1, 1.0, 2.0, 3.0],
        "forward_voltage": [2.7, 3.1, 3.3, 3.5],
        "radiant_flux": [0.12, 1.1, 1.9, 2.5],
        "luminous_flux": [38.0, 340.0, 580.0, 760.0],
        "luminous_ratio": [1.0, 0.6, 0.2],
        "radiant_ratio": [1.0, 0.6, 0.2],
    }
    links = [spot()["links"][0], {"between": ["sink", "ambient"], "resistance": 7.0}]
    return made(emitters={"white": emitter}, links=links)


# -- crossing --------------------------------------------------------------------------------------


@given(zero=st.floats(0.01, 0.99), steep=st.floats(0.2, 6.0), wall=st.floats(0.0, 1.0))
@settings(max_examples=200)
def test_crossing_is_bracketed(zero, steep, wall):
    """Whatever the slope, and however near a wall of -inf, the zero is within what is found."""

    def margin(x):
        return (
            -np.inf if x > zero + wall * (1 - zero) else np.sign(zero - x) * abs(zero - x) ** steep
        )

    low, high = crossing(margin, 0.0, 1.0, exact=1e-6)
    assert low <= zero <= high
    assert high - low <= 1e-6


def test_no_crossing_no_answer():
    """Where the margin is below zero at the low end, or never falls below, there is None."""
    assert crossing(lambda x: -1.0 - x, 0.0, 1.0, exact=1e-6) is None
    assert crossing(lambda x: 1.0 + x, 0.0, 1.0, exact=1e-6) is None


def test_raster():
    """Both ends and every whole multiple between them, once, rising."""
    assert raster(-3.0, 5.0, 2.5, [4.0]) == [-3.0, -2.5, 0.0, 2.5, 4.0, 5.0]
    assert raster(0.0, 5.0, 2.5, []) == [0.0, 2.5, 5.0]


# -- derating --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*LUMPED, DRAWN])
def test_derating_curve(name):
    """Permitted drive falls with the ambient from 1 to 0; every limit holds, a bit more breaks one.

    Above the corner the limit that acts is told, and it is the one that is met there.
    """
    ready = operating(demo(name), 0.6)
    curve = derating(ready, 25.0)
    assert (np.diff(curve.ambient_c) > 0).all()
    assert (np.diff(curve.permitted) <= 0).all()
    assert curve.permitted[0] == 1.0 or np.isnan(curve.full_until_c)
    assert curve.permitted[-1] < 1e-3
    for ambient_c, share, acting in zip(
        curve.ambient_c, curve.permitted, curve.acting, strict=True
    ):
        assert ready.margin_k(share, ambient_c) >= -LEAST_MARGIN_K
        if share < 1.0:
            margin_k, node = ready.nearest(ready.at(share + MORE, ambient_c))
            assert margin_k < 0.0
            assert acting == ready.names[node]
        else:
            assert acting == ""
    assert (
        ready.margin_k(1.0, curve.full_until_c - LESS_C)
        > 0.0
        > ready.margin_k(1.0, curve.full_until_c + LESS_C)
    )
    assert ready.margin_k(0.0, curve.dark_from_c + LESS_C) < 0.0
    light_lm = [
        ready.at(float(share), float(at_c)).light_lm.sum()
        for share, at_c in zip(curve.permitted, curve.ambient_c, strict=True)
    ]
    np.testing.assert_allclose(curve.light_lm, light_lm)


def test_what_is_permitted_here():
    """The point's own ambient has its own row, also between those of the curve."""
    ready = operating(demo("hunting_spot"))
    curve = derating(ready, 41.3)
    assert 41.3 not in curve.ambient_c
    assert curve.here == pytest.approx(np.interp(41.3, curve.ambient_c, curve.permitted), abs=1e-3)
    assert curve.here_acting == "sink"
    assert curve.here_lm == pytest.approx(ready.at(curve.here, 41.3).light_lm.sum())


def test_ripple_counts():
    """With a slow PWM less is permitted where a junction limits, since its crests count."""
    slow = {"driver": {"frequency": 20.0}}
    fast = {"driver": {"frequency": 20e3}}
    emitters = {"white": spot()["emitters"]["white"] | {"junction_capacitance": 0.001}}
    shares = [
        permitted(operating(made(emitters=emitters, **driver)), 105.0)[0] for driver in (slow, fast)
    ]
    assert 0.0 < shares[0] < 0.97 * shares[1] < 1.0


def test_runaway_is_a_limit():
    """A lamp that would run away at full drive is permitted as much as still rests."""
    emitter = spot()["emitters"]["white"] | {"forward_voltage_slope": 0.02}
    channel = spot()["channels"]["spot"] | {"junction_limit": 990.0}
    links = [spot()["links"][0], {"between": ["sink", "ambient"], "resistance": 25.0}]
    nodes = {"emitters": {"white": emitter}, "channels": {"spot": channel}, "links": links}
    ready = operating(made(**nodes))
    assert ready.at(1.0, 25.0).runaway
    share, acting = permitted(ready, 25.0)
    assert 0.1 < share < 1.0
    assert acting in ("runaway", "junction.spot.0")
    assert not ready.at(share, 25.0).runaway


# -- thresholds ------------------------------------------------------------------------------------


def test_reading_where_a_junction_meets_its_limit():
    """At the value found the channel's hottest junction is at its limit and the sensor reads so."""
    ready = operating(demo("stage_wash"), 0.2)
    for relation in thresholds(ready, 50.0, 0.0, 60.0):
        assert {found.varied for found in relation.at_limit} == {"ambient", "request"}
        for found in relation.at_limit:
            point = (1.0, found.value) if found.varied == "ambient" else (found.value, 50.0)
            rest = ready.at(*point)
            hottest_c = rest.peak_c[ready.hottest(rest)[found.channel]]
            limit_c = ready.lamp.channels[found.channel].junction_limit_c
            assert hottest_c == pytest.approx(limit_c, abs=LESS_C)
            sense = ready.senses[0]
            code = sense.code(
                rest.node_c[ready.resting.sensor_nodes[0]], sense.current_a(rest.duties)
            )
            assert found.reading_c == pytest.approx(sense.chain.reading_c(code), abs=0.3)


def test_curves_of_reading_and_junction():
    """Readings and junctions rise along both curves, and the curves meet at the point."""
    ready = operating(demo("cycle_front_lamp"), 0.4)
    (relation,) = thresholds(ready, 30.0, 0.0, 60.0)
    by_ambient, by_request = relation.curves
    for curve in (by_ambient, by_request):
        assert (np.diff(curve.reading_c) > 0).all()
        assert (np.diff(curve.junction_c, axis=0) > 0).all()
    here = list(by_ambient.value).index(30.0)
    assert by_request.value[-1] == 1.0
    assert by_ambient.reading_c[here] == pytest.approx(by_request.reading_c[-1])
    np.testing.assert_allclose(by_ambient.junction_c[here], by_request.junction_c[-1])


# -- the best command ------------------------------------------------------------------------------


def test_beyond_the_best_command_more_gives_less():
    """The command of most light is that of a fine search, and more current gives less."""
    ready = operating(drooping())
    best = best_command(ready, 25.0)
    assert best.falls
    assert best.table_end == pytest.approx(3.0)
    fine = np.linspace(0.02, best.command[-1], 2001)
    light_lm = np.array([ready.at(float(share), 25.0).light_lm.sum() for share in fine])
    assert best.most_lm == pytest.approx(light_lm.max(), rel=1e-6)
    assert best.most_at == pytest.approx(fine[np.argmax(light_lm)], abs=0.01)
    assert ready.at(best.most_at + 0.2, 25.0).light_lm.sum() < best.most_lm
    assert best.within_lm <= best.most_lm
    assert best.within_at <= 1.0


def test_where_light_only_rises_the_end_is_best():
    """A cool lamp gives most at the end of its emitters' table, and nothing falls."""
    ready = operating(demo("cycle_front_lamp"))
    best = best_command(ready, 20.0)
    assert not best.falls
    assert best.most_at == best.table_end == pytest.approx(2.0 / 1.2)
    assert best.within_at == 1.0
    assert best.within_lm == pytest.approx(ready.at(1.0, 20.0).light_lm.sum())


def test_commands_that_run_away_are_left_out():
    """Rows end where the lamp no longer rests."""
    emitter = spot()["emitters"]["white"] | {
        "forward_voltage_slope": 0.02,
        "current": [0.1, 1.0, 3.0],
        "radiant_flux": [0.12, 1.1, 2.5],
    }
    links = [spot()["links"][0], {"between": ["sink", "ambient"], "resistance": 12.0}]
    ready = operating(made(emitters={"white": emitter}, links=links))
    best = best_command(ready, 25.0)
    assert best.command[-1] < best.table_end
    assert np.isfinite(best.light_lm).all()
    assert ready.at(best.table_end, 25.0).runaway


def test_limits_above_the_hottest_ambient_looked_at():
    """Where no ambient looked at stops a level, it is safe up to the hottest, and none acts."""
    ready = operating(
        made(
            channels={"spot": spot()["channels"]["spot"] | {"junction_limit": 900.0}},
            nodes={"board": {"capacitance": 8.0}, "sink": {"capacitance": 40.0}},
        )
    )
    curve = derating(ready, 25.0)
    assert curve.permitted.min() == 1.0
    for one in safe_ambients(ready, 25.0):
        assert (one.ambient_c, one.acting) == (HOTTEST_C, "")
        assert one.light_lm == ready.at(one.level, HOTTEST_C).light_lm.sum()


@pytest.mark.parametrize("name", ["cycle_front_lamp", DRAWN])
def test_safe_ambients(name):
    """Less light is safe in warmer air; each level just holds at its ambient and not above."""
    ready = operating(demo(name), 0.3)
    found = safe_ambients(ready, 25.0)
    ambients_c = [one.ambient_c for one in found if np.isfinite(one.ambient_c)]
    assert len(ambients_c) >= 3
    assert ambients_c == sorted(ambients_c)
    for one in found:
        if np.isfinite(one.ambient_c):
            assert ready.margin_k(one.level, one.ambient_c - LESS_C) > 0.0
            assert ready.margin_k(one.level, one.ambient_c + LESS_C) < 0.0
            assert one.acting in ready.names
            at = ready.at(one.level, one.ambient_c)
            assert one.light_lm == pytest.approx(at.light_lm.sum())
        else:
            assert ready.margin_k(one.level, 0.0) < 0.0
