"""What happened, in an order that tells cause before effect."""

from derate.loop.happenings import Happening
from derate.report.clock import clock_for
from derate.report.events import in_order, marks

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
