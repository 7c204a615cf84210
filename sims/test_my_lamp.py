"""Tests of a lamp of one's own, to be copied beside its file and run by `pytest test_my_lamp.py`.

`derate new my_lamp.toml` writes a file that they hold for, all of its data invented. Where one
fails, pytest shows the history in which a promise broke, and `--derate-report broken` writes the
report of that run. What passes here has been searched, not proved.
"""

from pathlib import Path

from hypothesis import given, settings

import derate
from derate.limits import (
    never_exceeds,
    never_more_light_than_requested,
    profiles,
    recovers_within,
    safe_on_sensor_fault,
    sequences,
    space_of,
)

LAMP = derate.load(Path(__file__).with_name("my_lamp.toml"))
WARM_ROOM = space_of(LAMP, ambient_c=(15.0, 30.0))


def test_the_mission_holds():
    """In the evening that the lamp is made for, every limit is kept by 2 K."""
    never_exceeds(LAMP, "evening", guard_k=2.0)


@given(profiles(LAMP, within=WARM_ROOM))
@settings(max_examples=8, deadline=None)
def test_no_history_in_a_warm_room(profile):
    """Whatever is asked for in up to 30 degC, with the least air of the missions."""
    never_exceeds(LAMP, profile)


def test_never_more_light_than_asked_for():
    """No duty is above its request."""
    never_more_light_than_requested(LAMP)


def test_a_broken_thermistor_is_safe():
    """Open or shorted, at any time: the safe duty, for as long as it is broken."""
    safe_on_sensor_fault(LAMP)


def test_light_comes_back():
    """A minute after the thermistor is mended nothing is held back for it."""
    recovers_within(LAMP, 60.0)


TestAnyOrder = sequences(LAMP).TestCase
TestAnyOrder.settings = settings(max_examples=20, deadline=None)
