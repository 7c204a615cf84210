"""No simulation passes a bound: random lamps and histories, the bounds' own plans, a demo lamp."""

from pathlib import Path

import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp import Lamp, load
from derate.limits.worst.corner import corner_for
from derate.limits.worst.law import law_of
from derate.limits.worst.replay import replayed
from tests.limits.bounded import Bounded, any_history, bounded_lamp
from tests.limits.lamps import late_lamp

SIMS = Path(__file__).parents[2] / "sims"
TIGHT_K = 2.0
"""A bound is worth something when a history comes so near."""


@settings(max_examples=8, phases=[Phase.generate])  # shrinking would take minutes
@given(bounded_lamp(), st.data())
def test_no_history_passes_a_bound(raw, data):
    """Limited places and sensors of lamps drawn at random stay below their bounds, peaks and all.

    In histories drawn at random with bursts after darkness, in the coldest and the hottest air, and
    in those that the bounds fear themselves.
    """
    try:
        tried = Bounded(Lamp.model_validate(raw))
    except (ValueError, InputError):  # not every drawn lamp is a lamp
        assume(False)
    span, period_s = tried.span, tried.lamp.timing.control_period_s
    history = data.draw(any_history(tried.channels, span, tried.linear.slowest_s, period_s))
    courses = [tried.profile(history, at_c) for at_c in sorted(set(span.ambient_c))]
    for profile in courses + tried.plans():
        assert tried.least(profile).left_k >= 0.0


def test_a_burst_after_a_cool_down_is_neared():
    """The late lamp is hotter by a burst than from cold, and its bound is close to the burst."""
    tried = Bounded(late_lamp())
    (plan,) = tried.plans()
    assert tried.least(plan).left_k >= 0.0
    assert tried.left_k(plan, "junction.spot") < TIGHT_K
    assert tried.left_k(tried.full(), "junction.spot") > TIGHT_K


@pytest.fixture(scope="module")
def cycle():
    """The first demo with its bounds."""
    return Bounded(load(SIMS / "cycle_front_lamp.toml"))


def test_the_demo_stays_below_its_bounds(cycle):
    """Its own profiles, from whatever they do, end below every bound."""
    for profile in cycle.lamp.profiles.values():
        if not profile.events:
            assert cycle.least(profile).left_k >= 0.0


def test_the_demo_is_bounded_tightly(cycle):
    """The history that its nearest place fears comes close, where sensors read at their coldest."""
    place = min(cycle.places, key=lambda one: one.margin_k)
    unit = corner_for(cycle.watched, place.bound, of_reading=True).lamp
    replay = replayed(unit, place.bound, law_of(cycle.lamp), cycle.linear, lambda: False)
    assert 0.0 <= place.bound_c - replay.peak_c < TIGHT_K
