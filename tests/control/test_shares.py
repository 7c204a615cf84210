"""How channels share the limit: what the tables hold, and what the Python body makes of them."""

import numpy as np
import pytest

from derate.control import predictive
from derate.control.body import PythonBody
from derate.control.command import CUTOFF, FAULT
from derate.control.shares import LIMITS_Q15, ONE_Q15, share_q15, shared_duties, shares_of
from derate.errors import InputError
from derate.plant.palette import Palette
from derate.plant.rest import resting
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, PREDICTIVE, small_lamp
from tests.study.lamps import demo

WAYS = ("hottest first", "least important first", "hold colour")
SAME_POWER = 0.01
"""Power of a duty is taken at the temperatures of the same share; kelvins change it so much."""
HELD_UV = 2e-4
"""Duties are rounded to Q15 and found to 1e-5, at which colours stay within this."""
AMBIENT_C = 40.0
ROUNDING_CENTI = 2
"""The limit is rounded down, rise and lift are rounded up."""


def stage(way, **sharing):
    """The stage light, which has four colours and three priorities."""
    return demo("stage_wash").with_changes({"controller.sharing": {"way": way} | sharing})


def rests(lamp):
    """The lamp at rest at the points of its table, in AMBIENT_C, and under the same share."""
    ready, shares = resting(lamp), shares_of(lamp)
    for limit in np.array(LIMITS_Q15[1:-1]) / ONE_Q15:
        duties = shared_duties(shares, limit, np.ones(len(lamp.channels)))
        same = ready.rest(np.full(len(duties), limit), np.array([AMBIENT_C]))
        yield ready, ready.rest(duties, np.array([AMBIENT_C])), same


@pytest.mark.parametrize("way", WAYS)
def test_shares_rise_from_none_to_all(way):
    """Every channel's share rises from 0 to 1 with the limit, and some lie above it."""
    knots = np.array(shares_of(stage(way)).knots_q15)
    assert (knots[:, 0] == 0).all()
    assert (knots[:, -1] == ONE_Q15).all()
    assert (np.diff(knots, axis=1) >= 0).all()
    assert (knots > np.array(LIMITS_Q15)).any()


@pytest.mark.parametrize("way", WAYS[:2])
def test_the_limit_keeps_its_meaning(way):
    """At each point the lamp draws what it draws with the same share of all."""
    for _, rest, same in rests(stage(way, ambient=f"{AMBIENT_C} degC")):
        assert rest.supply_w.sum() == pytest.approx(same.supply_w.sum(), rel=SAME_POWER)


def test_the_colour_is_held():
    """The mix at rest is what is asked at each point; with the same share it is far off."""
    lamp = stage("hold colour", ambient=f"{AMBIENT_C} degC")
    for ready, rest, same in rests(lamp):
        palette = Palette(ready, dict.fromkeys(lamp.channels, 1.0))
        assert palette.shift(rest) < HELD_UV < 0.1 * palette.shift(same)
        assert rest.supply_w.sum() <= same.supply_w.sum() * (1.0 + SAME_POWER)


def test_who_goes_dark_first():
    """Red, nearest to its limit, or blue, of the least priority; white, the most, last."""
    names = list(stage("hottest first").channels)
    low = {
        way: dict(zip(names, np.array(shares_of(stage(way)).knots_q15)[:, 4], strict=True))
        for way in WAYS[:2]
    }
    assert low["hottest first"]["red"] == 0
    assert low["hottest first"]["blue"] == ONE_Q15
    least = low["least important first"]
    assert least["blue"] == 0
    assert least["red"] == least["green"] < least["white"]


def test_what_is_not_asked_for_keeps_the_limit():
    """A channel that the table's requests leave dark has the limit as its share."""
    lamp = stage("hottest first", request={"white": 0.0})
    knots = dict(zip(lamp.channels, shares_of(lamp).knots_q15, strict=True))
    assert knots["white"] == tuple(LIMITS_Q15)


def test_the_table_is_made_once():
    """Settings of the policy change, and the same table is handed out."""
    lamp = stage("hottest first")
    assert shares_of(lamp) is shares_of(lamp.with_changes({"controller.policy.setpoint": 61.0}))
    assert shares_of(stage("same share")) is None


@pytest.mark.parametrize("way", ["same share", "hottest first"])
def test_the_body_drives_by_the_table(way):
    """Healthy, a duty is request times share; under a fault all are alike; at the cut-off dark."""
    lamp = small_lamp(FOLDBACK, sharing={"way": way})
    body, chain = PythonBody(lamp, chains_of(lamp)), chains_of(lamp)[0]
    full = [ONE_Q15, ONE_Q15 // 2]
    warm = body.step([chain.ideal_code(60.0)], full)
    if way == "same share":
        assert warm.duties_q15[0] // 2 == warm.duties_q15[1]
    else:
        shares = [share_q15(knots, warm.limit_q15) for knots in shares_of(lamp).knots_q15]
        assert warm.duties_q15 == (shares[0], shares[1] // 2)
        assert warm.duties_q15[0] < warm.limit_q15 // 2 < warm.duties_q15[1]
    broken = body.step([0], full)
    assert broken.status & FAULT
    assert broken.duties_q15 == (broken.limit_q15, broken.limit_q15 // 2)
    body.start()
    hot = body.step([chain.ideal_code(95.0)], full)
    assert hot.status & CUTOFF
    assert hot.duties_q15 == (0, 0)


def test_a_policy_that_predicts_counts_on_the_shares():
    """What the duties of the next period lift a place is never more than the limit was solved for,
    though a channel gets more than the limit."""
    policy = PREDICTIVE | {"floor": 0.0}
    lamp = small_lamp(policy, sharing={"way": "hottest first"})
    plain = predictive.settings_of(small_lamp(policy), lamp.controller.policy)
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    knots, beyond = shares_of(lamp).knots_q15, 0.0
    for reading_c in np.arange(70.0, 90.0, 0.25):
        state = predictive.rested(settings, [0, 0])
        limit, _ = predictive.limit(settings, state, reading_c, [ONE_Q15, ONE_Q15])
        duties = [share_q15(one, int(limit * ONE_Q15)) / ONE_Q15 for one in knots]
        rise = np.array(predictive.rises_centi_k(settings, state))
        at = reading_c * 100 + rise + np.array(settings.now) @ duties
        at += limit * settings.band_centi_k
        if limit > 0.0:
            assert (at <= np.array(plain.end_centi_c) + ROUNDING_CENTI).all()
            beyond = max(beyond, (at - np.array(settings.end_centi_c)).max())
    assert beyond > 0.0


@pytest.mark.parametrize(
    ("name", "sharing", "told"),
    [
        ("keyring_colours", {"way": "least important first"}, "due a priority of channel red"),
        ("cycle_front_lamp", {"way": "hold colour"}, "due a spectrum or chromaticity of emitter"),
        ("stage_wash", {"way": "hottest"}, r"sharing\.way: found \"hottest\", due"),
        ("stage_wash", {"request": {"rad": 0.5}}, r'request\.rad: found "rad".*"red"'),
        ("stage_wash", {"request": dict.fromkeys(("red", "green", "blue", "white"), 0)}, "none"),
    ],
)
def test_what_a_way_needs_is_demanded(name, sharing, told):
    """A way without the priorities or colours it needs is refused, and so is a wrong channel."""
    with pytest.raises(InputError, match=told):
        demo(name).with_changes({"controller.sharing": sharing})
