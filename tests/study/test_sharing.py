"""Ways to share a limit, and duties that hold a colour."""

import itertools

import numpy as np
import pytest

from derate.control.holding import holding_duties
from derate.plant.tristimulus import distance, uv_of, xyz_of
from derate.study.colour_point import colour_point
from derate.study.sharing import COMMON, HELD, HOTTEST, LEAST, sharing
from tests.study.lamps import demo, operating

NO_FAN = 0.05
HOLDS_K = 2e-3
"""A share is found to 1e-5 of some 100 K above ambient."""
EXACT_UV = 1e-7
"""A colour is held to what the duties are found to."""
COARSE = 0.04
"""Steps of the brute search for the brightest duties."""
NEAR_UV, NEAR_LIGHT = 5e-4, 0.01
"""What of that grid counts as the same colour, and how much brighter so near a colour may be."""
OF_GRID = 1e-3
"""Relative: the nearest ratio of two channels among 2001 of them."""
PRIMARIES = [(0.70, 0.30, 60.0), (0.17, 0.70, 120.0), (0.14, 0.04, 15.0), (0.33, 0.34, 200.0)]
"""x, y and lumens of invented channels."""


def channels(count):
    """X, Y, Z of so many channels at full duty."""
    return np.array([lm * xyz_of(x, y) for x, y, lm in PRIMARIES[:count]])


@pytest.fixture(scope="module")
def ways():
    """The stage light without its fan, all channels asked for, by the name of each way."""
    lamp = operating(demo("stage_wash"), NO_FAN)
    return {one.way: one for one in sharing(lamp, 28.0)}


def test_every_way_holds_the_limits_and_spends_them(ways):
    """All four ways end with the nearest limit just held, and drive nothing beyond the request."""
    assert list(ways) == [COMMON, HOTTEST, LEAST, HELD]
    for one in ways.values():
        assert 0.0 <= one.margin_k < HOLDS_K
        assert all(0.0 <= duty <= 1.0 for duty in one.duties.values())


def test_who_gives_light(ways):
    """The same share from all; red, the hottest, first; blue, the least important, to darkness."""
    assert len(set(ways[COMMON].duties.values())) == 1
    assert ways[HOTTEST].duties["red"] < 1.0
    assert {ways[HOTTEST].duties[name] for name in ("green", "blue", "white")} == {1.0}
    least = ways[LEAST].duties
    assert least["blue"] == 0.0
    assert least["red"] == least["green"] < 1.0 == least["white"]


def test_what_each_way_does_to_the_colour(ways):
    """Only the held colour stays; of the others the same share shifts the mix least."""
    assert ways[HELD].shift < EXACT_UV
    assert EXACT_UV < ways[COMMON].shift < min(ways[HOTTEST].shift, ways[LEAST].shift)


def test_where_the_requests_hold_there_is_nothing_to_share():
    """With the fan on only the lamp as asked and the held colour are told."""
    lamp = operating(demo("stage_wash"))
    common, held = sharing(lamp, 28.0)
    assert set(common.duties.values()) == {1.0}
    assert common.shift == pytest.approx(colour_point(lamp, lamp.at(1.0, 28.0)).shift)
    assert held.way == HELD
    assert held.shift < EXACT_UV < common.shift


def test_without_colours_or_priorities_less_is_told():
    """No colours: no held one, no shift. No priorities: no least important. Neither, cool: none."""
    changes = {f"channels.{name}.priority": None for name in ("red", "green", "blue", "white")}
    bare = demo("stage_wash").with_changes(changes | {"emitters.white.chromaticity": None})
    told = sharing(operating(bare, NO_FAN), 28.0)
    assert [one.way for one in told] == [COMMON, HOTTEST]
    assert all(np.isnan(one.shift) for one in told)
    assert sharing(operating(bare), 28.0) == ()
    assert colour_point(operating(bare), operating(bare).at(1.0, 28.0)) is None


def test_one_channel_has_nobody_to_share_with():
    """A lamp with one lit channel, and one whose darkness is too hot, have no ways."""
    assert sharing(operating(demo("stage_wash"), NO_FAN, red=1.0), 28.0) == ()
    assert sharing(operating(demo("stage_wash")), 90.0) == ()


def test_a_dark_channel_does_not_count():
    """Asked for red and green alone, blue and white stay dark in every way."""
    lamp = operating(demo("stage_wash"), NO_FAN, red=1.0, green=0.6)
    for one in sharing(lamp, 60.0):
        assert one.duties["blue"] == one.duties["white"] == 0.0
        assert one.light_lm > 0.0


def test_three_channels_have_one_mixture():
    """Duties of three channels are those that the three equations of the mixture give."""
    asked = 50.0 * xyz_of(0.35, 0.34)
    parts = np.linalg.solve(channels(3).T, asked)
    found = holding_duties(channels(3), asked, np.ones(3))
    np.testing.assert_allclose(found, parts / parts.max(), rtol=1e-6)


def test_of_four_channels_the_brightest_mixture():
    """No mixture on a grid of duties that comes as near to the colour is brighter."""
    per_duty, asked = channels(4), xyz_of(0.35, 0.34)
    found = holding_duties(per_duty, asked, np.full(4, 0.8))
    assert distance(uv_of(found @ per_duty), uv_of(asked)) < EXACT_UV
    grid = np.array(list(itertools.product(np.arange(0.0, 0.8 + COARSE / 2, COARSE), repeat=4)))
    mixes = grid[1:] @ per_duty
    near = distance(uv_of(mixes), uv_of(asked)) < NEAR_UV
    assert near.any()
    assert mixes[near, 1].max() <= (found @ per_duty)[1] * (1 + NEAR_LIGHT)


def test_two_channels_come_as_near_as_they_can():
    """Beside the line of two channels the colour is the nearest there, not darkness."""
    per_duty, asked = channels(2), xyz_of(0.44, 0.46)
    found = holding_duties(per_duty, asked, np.ones(2))
    miss = distance(uv_of(found @ per_duty), uv_of(asked))
    ratios = np.linspace(0.0, 1.0, 2001)[:, None]
    mixes = ratios * per_duty[0] + (1 - ratios) * per_duty[1]
    assert found.max() == pytest.approx(1.0)
    assert miss < (1 + OF_GRID) * distance(uv_of(mixes), uv_of(asked)).min()
