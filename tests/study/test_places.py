"""Channels, sensors, nodes, power and heat paths at rest."""

import math
from collections import defaultdict

import numpy as np
import pytest

from derate.study.balance import power_of
from derate.study.passage import at_c, passages
from derate.study.path import paths
from derate.study.places import (
    channel_points,
    nearest_limit,
    node_points,
    sensor_points,
    stability,
)
from tests.loop.lamps import SPOT
from tests.study.lamps import DRAWN, LUMPED, demo, made, operating, shedding, spot

ROUNDING = 1e-9
"""Relative: sums in another order."""
BALANCE_W = 1e-8
"""What the rest's own accuracy leaves of the books."""
MIXED = {"cycle_front_lamp": {"low_beam": 1.0, "high_beam": 0.4}}


def every_lamp():
    """Lamps of given networks, with surfaces, with a board and bypass switches."""
    lamps = {name: demo(name) for name in (*LUMPED, DRAWN)}
    return lamps | {"shedding": shedding(driver={"efficiency": 0.85, "heat_node": "sink"})}


@pytest.fixture(params=every_lamp())
def ready(request):
    """Each of these lamps, one of them at unequal requests."""
    return operating(every_lamp()[request.param], 0.5, **MIXED.get(request.param, {}))


def test_links_without_a_name_are_told_by_their_ends():
    """Of several links each says which it is, also where the file gives no names."""
    links = [{key: value for key, value in link.items() if key != "name"} for link in SPOT["links"]]
    ready = operating(made(links=links))
    (path,) = paths(ready, ready.at(1.0, 25.0))
    assert [step.what for step in path.steps][1:] == [
        "link board to sink",
        "link sink to ambient and link sink to ambient",
    ]


@pytest.mark.parametrize("share", [1.0, 0.37])
def test_what_is_put_in_comes_out(ready, share):
    """Supply and sensors = light + ambients + what heats no node, to rounding."""
    power = power_of(ready, ready.at(share, 28.0))
    assert power.residual_w == pytest.approx(0.0, abs=BALANCE_W)
    assert power.radiant_w > 0.0
    assert power.driver_loss_w >= 0.0
    parts_w = power.radiant_w + power.heat_w + power.driver_loss_w + power.bypass_w
    assert parts_w == pytest.approx(power.supply_w, rel=ROUNDING)


def test_channel_numbers_fit_together(ready):
    """Voltage times current = power = heat + light; the limit's margin counts the ripple."""
    rest = ready.at(0.5, 28.0)
    points = channel_points(ready, rest)
    for point in points:
        assert point.voltage_v * point.current_a == pytest.approx(point.electrical_w, rel=ROUNDING)
        assert point.heat_w + point.radiant_w == pytest.approx(point.electrical_w, rel=ROUNDING)
        assert point.efficacy_lm_per_w * point.electrical_w == pytest.approx(point.light_lm)
        left_k = point.limit_c - point.junction_c - point.ripple_k
        assert point.margin_k == pytest.approx(left_k, abs=1e-12)
        assert point.ripple_k >= 0.0
        assert point.junction_c > point.solder_c
    assert sum(point.light_lm for point in points) == pytest.approx(rest.light_lm.sum())


def test_heat_flows_through_the_whole_lamp(ready):
    """At every place but the ends as much heat comes in as goes out, sensors' own heat apart."""
    rest = ready.at(1.0, 28.0)
    balance_w = defaultdict(float)
    for way in passages(ready, rest):
        balance_w[way.start] -= way.heat_w
        balance_w[way.end] += way.heat_w
        assert way.heat_w >= 0.0
    groups = len(ready.resting.assembly.groups)
    for name, heat_w in zip(ready.resting.assembly.junctions, rest.heat_w[:groups], strict=True):
        balance_w[name] += heat_w
    driver = ready.lamp.driver
    if driver.heat_node:
        power = power_of(ready, rest)
        balance_w[driver.heat_node] += power.driver_loss_w
    sensors_w = power_of(ready, rest).sensors_w
    leaks_w = sum(
        abs(rest.node_c[ready.node(f"sensor.{name}")] - 28.0) / sensor.to_ambient_k_per_w
        for name, sensor in ready.lamp.sensors.items()
        if sensor.to_ambient_k_per_w
    )
    for place, left_w in balance_w.items():
        if place not in ready.lamp.ambients:
            assert abs(left_w) <= sensors_w + leaks_w + BALANCE_W, place


def test_a_path_comes_down_to_an_ambient(ready):
    """Drops along a path are positive and sum to the rise of its junction above the ambient."""
    rest = ready.at(1.0, 28.0)
    found = paths(ready, rest)
    assert [path.channel for path in found] == list(ready.lamp.channels)
    for path in found:
        assert path.steps[0].what == "junction to solder"
        assert path.steps[-1].end == path.ambient
        assert all(step.drop_k > 0.0 and step.heat_w > 0.0 for step in path.steps)
        assert sum(step.drop_k for step in path.steps) == pytest.approx(path.rise_k, rel=ROUNDING)
        hottest_c = rest.node_c[ready.hottest(rest)[path.channel]]
        assert path.rise_k == pytest.approx(hottest_c - 28.0, rel=ROUNDING)


def test_a_path_tells_both_resistances():
    """Rise over the heat of all emitters, and over their electrical power: JESD51-51's two."""
    ready = operating(demo("cycle_front_lamp"))
    rest = ready.at(1.0, 25.0)
    channels = channel_points(ready, rest)
    heat_w = sum(one.heat_w for one in channels)
    electrical_w = sum(one.electrical_w for one in channels)
    for path in paths(ready, rest):
        assert path.real_k_per_w == pytest.approx(path.rise_k / heat_w, rel=ROUNDING)
        assert path.electrical_k_per_w == pytest.approx(path.rise_k / electrical_w, rel=ROUNDING)
        for step in path.steps:
            assert step.resistance_k_per_w == step.drop_k / step.heat_w


def test_parallel_ways_are_one_step():
    """Two links between the same places are one step with both names and both heats."""
    ready = operating(made())
    step = paths(ready, ready.at(1.0, 25.0))[0].steps[-1]
    assert step.what == "link fan and link still"
    assert step.heat_w * (1 / (1 / 3.0 + 1 / 12.0)) == pytest.approx(step.drop_k, rel=ROUNDING)


def test_a_solder_joint_is_a_step_of_its_own():
    """With a joint the drop from the junction is split as the resistances are."""
    ready = operating(demo(DRAWN))
    inside, joint = paths(ready, ready.at(1.0, 28.0))[0].steps[:2]
    assert (inside.what, joint.what) == ("junction to solder", "solder joint")
    assert inside.end == joint.start
    assert inside.resistance_k_per_w == pytest.approx(6.8, rel=ROUNDING)  # 2.6 + 4.2 K/W
    area_m2 = 1.6e-3 * 2.6e-3 * 0.8
    assert joint.resistance_k_per_w == pytest.approx(70e-6 / (57.0 * area_m2), rel=ROUNDING)


def test_sensors_tell_place_body_and_band():
    """The reading lies within the band around its place; outside the working range it has none."""
    ready = operating(demo("cycle_front_lamp"))
    point = sensor_points(ready, ready.at(1.0, 28.0), 28.0)[0]
    assert point.fault == ""
    assert point.low_k <= point.reading_c - point.place_c <= point.high_k
    hot = sensor_points(ready, ready.at(1.0, 120.0), 120.0)[0]
    assert hot.place_c > 125.0
    assert math.isnan(hot.low_k)
    assert math.isnan(hot.high_k)


def test_nodes_are_those_of_the_file_and_the_named_ones_of_the_board():
    """Neither junctions, nor bodies, nor the points that carry the board's field are listed."""
    ready = operating(demo(DRAWN))
    names = [point.name for point in node_points(ready, ready.at(1.0, 28.0))]
    solder = ["solder.red.1", "solder.green.1", "solder.blue.1"]
    assert names == ["body", "driver_board", "board", *solder, "place.ntc"]


def test_the_hottest_place_of_a_board_is_limited():
    """The limit of a board acts where it is hottest, beneath an emitter; the lower limit counts."""
    lamp = demo(DRAWN).with_changes(
        {"board.limit": "60 degC", "channels.red.solder_limit": "80 degC", "nodes.body.limit": None}
    )
    ready = operating(lamp)
    rest = ready.at(1.0, 25.0)
    found = nearest_limit(ready, rest)
    solder = {name: at_c(ready, rest, name) for name in lamp.places() if "solder" in name}
    assert (found.node, found.limit_c) == (max(solder, key=solder.get), 60.0)
    assert found.temperature_c == max(solder.values())
    limits_c = {one.name: one.limit_c for one in node_points(ready, rest)}
    assert limits_c["solder.red.1"] == limits_c["board"] == 60.0


def test_a_dark_channel_has_no_path_and_no_efficacy():
    """A channel without request takes no power; what would be divided by it is nan."""
    ready = operating(demo("cycle_front_lamp"), low_beam=1.0, high_beam=0.0)
    rest = ready.at(1.0, 28.0)
    dark = channel_points(ready, rest)[1]
    assert dark.electrical_w == dark.light_lm == dark.voltage_v == 0.0
    assert math.isnan(dark.efficacy_lm_per_w)
    assert [path.channel for path in paths(ready, rest)] == ["low_beam"]


def test_stability_in_words():
    """Little feedback needs no words; much is told as a percentage; a runaway says so."""
    calm = operating(demo("stage_wash"))
    assert stability(calm, calm.at(1.0, 25.0)).sentence == ""
    assert np.isfinite(stability(calm, calm.at(1.0, 25.0)).loop_gain)
    hot = spot()
    hot["emitters"]["white"]["forward_voltage_slope"] = 0.008
    hot["links"] = [hot["links"][0], {"between": ["sink", "ambient"], "resistance": 22.0}]
    ready = operating(made(emitters=hot["emitters"], links=hot["links"]))
    found = stability(ready, ready.at(1.0, 25.0))
    assert not found.runaway
    assert found.loop_gain > 0.5
    assert f"{100 * found.loop_gain:.0f} %" in found.sentence
