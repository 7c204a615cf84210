"""Changed lamps solved again, two lamps side by side, and what parts cost."""

import numpy as np
import pytest

from derate.study.comparison import cost_of, side_of
from derate.study.derating import light_lm, permitted
from derate.study.own_units import instead
from derate.study.sensitivity import helps
from derate.study.what_if import LEAST_K, LEAST_LM, what_ifs
from tests.study.lamps import DRAWN, SPOT, demo, made, operating, shedding

SAME_K = 1e-5
"""The thermistors' heat is found to 1e-7 K, from wherever the search comes; a board made for the
rest alone tells by other patterns how a face sheds away from its mean, which moves it by 1e-6 K."""


def asked(lamp, ambient_c=30.0):
    """The lamp, its what-ifs for its hottest junction, and that node."""
    ready = operating(lamp)
    rest = ready.at(1.0, ambient_c)
    node = ready.names[next(iter(ready.hottest(rest).values()))]
    listed = helps(ready, rest, ready.node(node))
    return ready, node, what_ifs(ready, 1.0, ambient_c, node, node, listed)


@pytest.mark.parametrize("lamp", [demo("stage_wash"), shedding(), demo(DRAWN)])
def test_each_is_the_changed_lamp(lamp):
    """Kelvin and light are those of the lamp with these keys changed, asked by itself."""
    ready, node, found = asked(lamp)
    assert len(found) >= 3
    for one in found:
        changed = operating(lamp.with_changes(one.changes))
        rest, before = changed.at(1.0, 30.0), ready.at(1.0, 30.0)
        moved_k = rest.node_c[changed.node(node)] - before.node_c[ready.node(node)]
        assert one.limiting_k == pytest.approx(moved_k, abs=SAME_K)
        assert one.junction_k == one.limiting_k
        gained_lm = rest.light_lm.sum() - before.light_lm.sum()
        assert one.light_lm == pytest.approx(gained_lm, abs=1e-4)
        allowed_lm = [light_lm(each, permitted(each, 30.0)[0], 30.0) for each in (changed, ready)]
        assert one.permitted_lm == pytest.approx(allowed_lm[0] - allowed_lm[1], abs=0.02)


def test_every_sort_of_change_is_tried():
    """Pads, second emitters and surfaces of a board; the strongest links of others."""
    _, _, drawn = asked(demo(DRAWN))
    assert {one.what for one in drawn} >= {
        "pads 25 % larger",
        "a second emitter on each pad",
        "surface tube 25 % larger",
    }
    _, _, given = asked(demo("stage_wash"))
    links = [one.what for one in given if "half" in one.what]
    assert len(links) == 3
    assert "half the resistance of link fan" in links
    _, _, shed = asked(shedding())
    whats = [one.what for one in shed]
    assert "surface fins: fins of 25 instead of 20 mm" in whats
    assert not any("fins instead of" in what for what in whats)  # the number is a good one
    _, _, tight = asked(shedding().with_changes({"surfaces.fins.fins": 20}))
    assert "surface fins: 18 fins instead of 20" in [one.what for one in tight]
    assert "surface bracket 25 % larger" in whats


def test_what_counts_is_told_best_first():
    """Rows fall from the coolest on, and each cools a place or brings light."""
    _, _, found = asked(demo(DRAWN))
    moved_k = [(round(one.limiting_k, 1), one.junction_k) for one in found]
    assert moved_k == sorted(moved_k)
    assert all(
        min(one.limiting_k, one.junction_k) <= -LEAST_K
        or max(one.light_lm, one.permitted_lm) >= LEAST_LM
        for one in found
    )


def test_hopeless_boards_are_not_made():
    """Where the adjoint promises nothing of the board, no other board is solved."""
    lamp = operating(demo(DRAWN))
    rest = lamp.at(1.0, 30.0)
    node = lamp.names[lamp.resting.first_junction]
    listed = [one for one in helps(lamp, rest, lamp.node(node)) if "board" not in one.key]
    found = what_ifs(lamp, 1.0, 30.0, node, node, [h for h in listed if "vias" not in h.what])
    assert {one.what for one in found} == {
        "a second emitter on each pad",
        "surface tube 25 % larger",
    }


def test_words_stand_in_the_units_of_the_file():
    """A fan of 12 m^3/h in the file is told in m^3/h, a lamp without a file in the unit given."""
    fan = {"fan": {"flow": "12 m^3/h", "pressure": "25 Pa"}}
    lamp = shedding().with_changes({"surfaces.fins.fan": fan["fan"]})
    assert lamp.text == ""
    _, _, found = asked(lamp)
    assert "surface fins: a fan of 15 instead of 12 m^3/h" in [one.what for one in found]
    stated = demo("cycle_front_lamp")
    assert instead(stated, "channels.low_beam.current", 1.5, "1 A") == "1.5 instead of 1 A"
    assert instead(stated, "links.wind.resistance", 0.5, "") == "0.75 instead of 1.5 K/W"


def test_what_should_help_helps():
    """Half an interface's resistance, a second emitter, more surface: each cools the junction."""
    for lamp in (demo("stage_wash"), shedding()):
        for one in asked(lamp)[2]:
            assert one.limiting_k < 0.0, one
            assert one.permitted_lm >= -1e-6, one


def test_a_second_emitter_shares_the_current():
    """Offsets and places of parallel branches are doubled with them; light grows, heat falls."""
    lamp = demo("stage_wash")
    _, _, found = asked(lamp)
    changes = next(one.changes for one in found if "second emitter" in one.what)
    changed = lamp.with_changes(changes)
    for name, channel in lamp.channels.items():
        assert changed.channels[name].parallel == 2 * channel.parallel
        assert changed.channels[name].current_a == channel.current_a
    assert changed.channels["red"].offsets_v == 2 * lamp.channels["red"].offsets_v
    each = made(channels={"spot": SPOT["channels"]["spot"] | {"solder_point": ["board"] * 3}})
    _, _, found = asked(each)
    assert any("second emitter" in one.what for one in found)


def test_a_changed_lamp_that_runs_away():
    """Halving a resistance cannot run away, but a lamp at the edge is told with nan either way."""
    emitter = SPOT["emitters"]["white"] | {"forward_voltage_slope": 0.02}
    links = [SPOT["links"][0], {"between": ["sink", "ambient"], "resistance": 25.0}]
    lamp = made(emitters={"white": emitter}, links=links)
    ready = operating(lamp)
    assert ready.at(1.0, 25.0).runaway
    side = side_of(ready, 1.0, 25.0)
    assert side.runaway
    assert np.isnan(side.light_lm)
    assert side.permitted_lm > 0.0


def test_cost_counts_every_emitter():
    """Emitters cost each, other parts once; parts without a price are listed, none is None."""
    lamp = demo(DRAWN)
    cost = cost_of(lamp)
    assert cost.currency == "EUR"
    assert cost.total == pytest.approx(sum(cost.parts.values()))
    assert cost.parts["emitters.red"] == pytest.approx(0.42)
    doubled = lamp.with_changes(
        {"channels.red.parallel": 2, "channels.red.at": [[0.0, 0.0045], [0.0, 0.0045]],
         "driver.price": None}
    )  # fmt: skip
    more = cost_of(doubled)
    assert more.parts["emitters.red"] == pytest.approx(0.84)
    assert "driver" in more.unpriced
    assert cost_of(demo("stage_wash")) is None


def test_a_side_is_the_lamp_by_itself():
    """Light, efficacy and margin of a side are those of its own rest."""
    ready = operating(demo("hunting_spot"))
    side, rest = side_of(ready, 0.8, 30.0), ready.at(0.8, 30.0)
    assert side.light_lm == pytest.approx(rest.light_lm.sum())
    assert side.efficacy_lm_per_w == pytest.approx(rest.light_lm.sum() / rest.supply_w.sum())
    assert (side.margin_k, side.limiting) == (ready.margin_k(0.8, 30.0), "sink")
    assert side.permitted == permitted(ready, 30.0)[0]
