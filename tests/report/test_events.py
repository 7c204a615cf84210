"""What happened, in an order that tells cause before effect."""

from derate.loop.happenings import Happening
from derate.report.clock import clock_for
from derate.report.events import MOST_MARKS, in_order, marks

TOGETHER = (
    Happening(360.0, "fault seen: sensor open", "fault"),
    Happening(360.0, "ntc open", "profile"),
    Happening(130.0, "light held back", "throttle"),
)


def test_causes_stand_before_effects():
    """At one time what the profile does comes first; else time decides."""
    whats = [happening.what for happening in in_order(TOGETHER)]
    assert whats == ["light held back", "ntc open", "fault seen: sensor open"]


def test_labels_follow_that_order():
    """In a figure the cause stands in the row above its effect."""
    found = {mark.text: mark.row for mark in marks(TOGETHER, clock_for(720.0), 12.0)}
    assert found["ntc open"] < found["fault seen: sensor open"]


def test_profile_events_outlast_repetitions():
    """However often light is held back or a fault is seen, what the profile does is marked."""
    again = [Happening(60.0 + 40.0 * i, "light held back", "throttle") for i in range(20)]
    faults = [Happening(70.0 + 40.0 * i, "fault seen: sensor open", "fault") for i in range(20)]
    events = [Happening(100.0 + 200.0 * i, f"paste x {i + 2}", "profile") for i in range(4)]
    found = marks([*again, *faults, *events], clock_for(900.0), 15.0)
    assert len(found) <= MOST_MARKS
    texts = [mark.text for mark in found]
    for event in events:
        assert event.what in texts
    for first in ("light held back", "fault seen: sensor open"):
        assert first in texts


def test_profile_events_are_named_before_others():
    """Where labels crowd, others give way, so that each event of the profile keeps its name."""
    crowd = [Happening(300.0 + i, f"junction {i} over 110 degC", "limit") for i in range(6)]
    events = [Happening(302.5, "paste x 3", "profile"), Happening(307.0, "ntc open", "profile")]
    found = {mark.text: mark.row for mark in marks([*crowd, *events], clock_for(720.0), 12.0)}
    assert found["paste x 3"] >= 0
    assert found["ntc open"] >= 0
    assert any(text.startswith("junction") for text in found)


def test_a_crowd_of_profile_events_spares_the_rest():
    """Where events of the profile have no room even alone, other marks are not given up for it."""
    events = [Happening(302.0 + i, f"event {i}", "profile") for i in range(7)]
    held = Happening(500.0, "light held back", "throttle")
    found = marks([held, *events], clock_for(720.0), 12.0)
    assert "light held back" in [mark.text for mark in found]
