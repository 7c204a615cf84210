"""The possible: no history surpasses it, the plan holds, and a lamp of one node has a formula."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import derate
from derate.errors import InputError
from derate.lamp import Lamp, Profile
from derate.loop.inputs import Inputs
from derate.plant.plant import Plant
from derate.study.case import case_of
from derate.study.certificate import bound_lm_s
from derate.study.possible import PARTS, possible
from derate.study.worth import Worth
from tests.loop.lamps import SPOT, any_lamp, spot
from tests.study.lamps import DRAWN, LUMPED, demo

ROUNDING = 1e-9
"""Relative: sums in another order."""
CLOSE = 0.01
"""How loose a bound may be where light does not depend on temperature: the slots' doing."""
SMALL = 1e-3
"""Relative: junction and thermistor of the lamp of one node hold a ten thousandth of its heat."""
TICK_S = 0.05
"""Of the controllers that know all temperatures."""

duties = st.floats(0.0, 1.0)


def one_node(limit_c, duration_s):
    """A lamp that is one node, nearly: 8 J/K on 10 K/W, light and heat in proportion to duty."""
    emitter = SPOT["emitters"]["white"] | {
        "forward_voltage_slope": 0.0,
        "junction": [25.0, 125.0],
        "radiant_ratio": [1.0, 1.0],
        "luminous_ratio": [1.0, 1.0],
        "junction_to_solder_resistance": 1e-3,
        "junction_capacitance": 1e-5,
    }
    raw = spot(emitters={"white": emitter})
    raw["sensors"]["ntc"] |= {"capacitance": 1e-5}
    raw["nodes"] = {"board": {"capacitance": 8.0, "limit": limit_c}}
    raw["links"] = [{"between": ["board", "ambient"], "resistance": 10.0}]
    raw["driver"] = {"resolution": 16}
    raw["profiles"] = {"on": {"duration": duration_s, "ambient": 20.0, "request": {"spot": 1.0}}}
    return Lamp.model_validate(raw)


def optimum_lm_s(lamp, limit_c, duration_s):
    """Full until the limit, t = R C ln(P R / (P R - rise)), then the share rise / (P R)."""
    plant = Plant(lamp)
    plant.advance(1e-6, np.ones(1), np.ones(1), np.array([20.0]), np.zeros(1))
    light_lm, heat_w = float(plant.light_lm[0]), float(plant.tally.heat_j[0]) / 1e-6
    share = (limit_c - 20.0) / (10.0 * heat_w)
    if share >= 1.0:
        return light_lm * duration_s
    full_s = min(duration_s, -80.0 * math.log1p(-share))
    return light_lm * (full_s + share * (duration_s - full_s))


@pytest.mark.parametrize("limit_c", [35.0, 50.0, 90.0])
@pytest.mark.parametrize("duration_s", [40.0, 300.0])
def test_one_node_heats_at_full_then_holds(limit_c, duration_s):
    """On one node the bound lies at the closed form or a little above, the plan beneath it."""
    lamp = one_node(limit_c, duration_s)
    best = optimum_lm_s(lamp, limit_c, duration_s)
    found = possible(lamp)
    assert best * (1.0 - SMALL) <= found.light_lm_s <= best * (1.0 + CLOSE)
    assert best * (1.0 - CLOSE) <= found.plan_lm_s.sum() <= best * (1.0 + SMALL)


def oracle_lm_s(lamp, profile, shares, spare_k):
    """Light of a controller that sees every node, and whether it held all limits.

    It drives a share of the requests while all nodes are ``spare_k`` below their limits, else
    nothing; shares follow each other, a tick each.
    """
    plant, inputs = Plant(lamp), Inputs(lamp, profile)
    plant.configure(inputs.airflow, {})
    plant.reset(inputs.ambient_c, profile.start_c)
    jumps, limits_c = sorted(profile.jumps()), plant.limits_c
    limits_c = np.where(np.isnan(limits_c), np.inf, limits_c)
    for tick in range(round(profile.duration_s / TICK_S)):
        at_s = tick * TICK_S
        inputs.move(at_s)
        while jumps and jumps[0] <= at_s:
            inputs.jump(jumps.pop(0))
            plant.configure(inputs.airflow, {})
        cool = np.all(plant.node_c < limits_c - spare_k)
        duty = inputs.requests * shares[tick % len(shares)] * cool
        plant.advance(TICK_S, duty, duty, inputs.ambient_c, np.zeros(len(lamp.sensors)))
    return float(plant.tally.light_lm_s.sum()), np.all(plant.tally.peak_c <= limits_c)


@st.composite
def limited(draw):
    """Lamps of every kind with limits that are met within the profile's 20 s."""
    raw = draw(any_lamp())
    raw["profiles"]["any"]["events"] = []
    raw["sensors"]["ntc"]["adc"] = {"bits": 12}
    for channel in raw["channels"].values():
        channel["junction_limit"] = draw(st.floats(45.0, 90.0))
    name = draw(st.sampled_from(list(raw["nodes"])))
    raw["nodes"][name] = raw["nodes"][name] | {"limit": draw(st.floats(42.0, 60.0))}
    try:
        return Lamp.model_validate(raw)
    except ValueError:
        assume(False)


@given(limited(), st.lists(st.sampled_from((0.0, 0.3, 0.9, 1.0, 1.0)), min_size=1, max_size=5),
       st.floats(0.0, 2.0))  # fmt: skip
@settings(max_examples=8)
def test_no_history_surpasses_the_bound(lamp, shares, spare_k):
    """Controllers that know every temperature, switching as fast as they like, stay below it."""
    profile = lamp.profiles["any"]
    light_lm_s, held = oracle_lm_s(lamp, profile, shares, spare_k)
    assume(held and light_lm_s > 0.0)
    assert light_lm_s <= possible(lamp).light_lm_s * (1.0 + ROUNDING)


@given(limited())
@settings(max_examples=6)
def test_the_plan_holds_and_lies_below_the_bound(lamp):
    """The plan keeps every limit at the edges of its slots, and gives no more than the bound."""
    found = possible(lamp)
    assume(found.unheld is None)
    assert found.plan_lm_s.sum() <= found.light_lm_s * (1.0 + ROUNDING)
    limits_c = Plant(lamp).limits_c
    limited_nodes = ~np.isnan(limits_c)
    assert np.all(found.node_c[:, limited_nodes] <= limits_c[limited_nodes] + ROUNDING)


@given(limited())
@settings(max_examples=6)
def test_no_run_surpasses_the_bound(lamp):
    """A run with delays, jitter and rounding, of any policy, stays below it if it holds."""
    result = derate.run(lamp, "any")
    assume(result.merit.held and result.merit.light_lm_h > 0.0)
    assert possible(lamp).share_of(result) <= 1.0


@given(st.integers(0, 2**32 - 1), st.lists(duties, min_size=4, max_size=4))
@settings(max_examples=10)
def test_any_prices_give_a_bound(seed, shares):
    """Weak duality: prices drawn at random bound the light of any history that holds."""
    lamp = demo("hunting_spot")
    profile = lamp.profiles["evening"]
    case = case_of(lamp, profile, PARTS)
    worth = 200.0 * np.random.default_rng(seed).normal(size=case.low_c.shape)
    duty = np.repeat(shares, 16)[: len(case.horizon.airflow), None] * 0.6
    plant = Plant(lamp)
    plant.reset(np.array([25.0]))
    for length_s, one in zip(case.horizon.length_s, duty, strict=False):
        plant.advance(float(length_s), one, one, np.array([25.0]), np.zeros(1))
    assert plant.tally.above_s.sum() == 0.0
    edge = np.abs(worth[::-1]) * (case.limit_c < np.inf)
    assert plant.tally.light_lm_s.sum() <= bound_lm_s(case, Worth(case.horizon.least, worth, edge))


@pytest.mark.parametrize("name", [*LUMPED, DRAWN])
def test_demo_lamps_share(name):
    """Every demo's own policy holds its limits and delivers less than the possible."""
    lamp = demo(name)
    for profile in lamp.profiles:
        result = derate.run(lamp, profile)
        assert result.merit.held
        found = possible(lamp, profile)
        assert 0.5 < found.share_of(result) <= 1.0
        assert found.plan_lm_s.sum() / found.light_lm_s > result.merit.light_lm_h / found.light_lm_h


def test_a_request_is_driven_on_until_the_next_tick():
    """What a controller gives that has not yet looked at the request again is possible too."""
    request = {"spot": {"at": [0.0, 8.1], "value": [1.0, 0.0]}}
    lamp = Lamp.model_validate(
        spot(
            controller={"policy": {"kind": "none"}},
            timing={"control_period": 4.0},
            profiles={"off": {"duration": 16.0, "ambient": 25.0, "request": request}},
        )
    )
    result = derate.run(lamp, "off")
    trace = result.trace
    assert trace["light_lm"][(trace["time_s"] == 8.0)] > 0.0
    assert 0.98 < possible(lamp, "off").share_of(result) <= 1.0


def test_one_channel_alone():
    """A channel's own bound is above its share of the plan, and all are below the sum of them."""
    lamp = demo("cycle_front_lamp")
    whole = possible(lamp, "ride_home")
    alone = {name: possible(lamp, "ride_home", of=[name]) for name in lamp.channels}
    for planned, (name, found) in zip(whole.plan_lm_s, alone.items(), strict=True):
        assert found.of == (name,)
        assert planned <= found.light_lm_s * (1.0 + ROUNDING)
        assert found.looseness < 2 * CLOSE
    assert whole.plan_lm_s.sum() <= sum(found.light_lm_s for found in alone.values())
    with pytest.raises(InputError, match="found rear, due one of its channels, low_beam, high"):
        possible(lamp, "ride_home", of=["rear"])


def test_nothing_limits():
    """Where no limit is ever met the plan is the request and the bound is hardly above."""
    lamp = Lamp.model_validate(spot())
    found = possible(lamp)
    full = derate.run(lamp.with_changes({"controller.policy": {"kind": "none"}}))
    assert full.merit.held
    assert found.duty == pytest.approx(1.0)
    assert found.looseness < CLOSE


def test_a_limit_that_nobody_can_hold_is_told():
    """An ambient above a limit makes the bound not a number, and says which node and when."""
    lamp = one_node(35.0, 300.0)
    hot = {"at": [0.0, 100.0], "value": [20.0, 60.0]}
    profile = Profile.model_validate({"duration": 300.0, "ambient": hot, "request": {"spot": 1.0}})
    found = possible(lamp, profile)
    assert math.isnan(found.light_lm_s)
    assert "no controller can hold the limits: board reaches" in found.unheld
    assert "above its limit of 35 degC" in found.unheld


def test_a_channel_stuck_on_counts_in_full():
    """A channel that a fault keeps on is on in the plan, request or not."""
    lamp = Lamp.model_validate(spot())
    events = [{"kind": "channel stuck on", "channel": "spot", "at": 10.0, "until": 20.0}]
    profile = Profile.model_validate({"duration": 40.0, "ambient": 20.0, "events": events})
    found = possible(lamp, profile)
    on = (found.edge_s[:-1] >= 10.0) & (found.edge_s[:-1] < 20.0)
    np.testing.assert_array_equal(found.duty[:, 0], on.astype(float))


def test_too_many_jumps_are_refused():
    """A profile of more slots than can be solved is refused in one sentence."""
    lamp = Lamp.model_validate(spot())
    request = {"spot": {"at": [0.0, 0.01], "value": [1.0, 0.5], "every": 0.02}}
    profile = Profile.model_validate({"duration": 40.0, "ambient": 20.0, "request": request})
    with pytest.raises(InputError, match="found a profile of 4000 slots, due at most 1500"):
        possible(lamp, profile)
