"""Inputs: events by time, airflow along a line in fine steps."""

import math

from hypothesis import given
from hypothesis import strategies as st

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.inputs import AIRFLOW_STEPS, Inputs, in_steps
from tests.loop.lamps import spot


@given(st.floats(1e-9, 1e9))
def test_airflow_steps_are_relative(airflow):
    """However small the airflow, its step is within half of 1/1024 of an octave."""
    assert abs(math.log2(in_steps(airflow) / airflow)) <= 0.5 / AIRFLOW_STEPS + 1e-12


def test_airflow_zero_stays_zero():
    """Still air is no step but exactly nothing."""
    assert in_steps(0.0) == 0.0


@given(st.data())
def test_conditions_follow_the_events(data):
    """Jump by jump the sweep gives what looking at every event would give."""
    times = st.integers(0, 50).map(float)
    events = [
        {"kind": "airflow", "factor": 0.01 * i, "at": at, "until": at + data.draw(times) + 1.0}
        for i, at in enumerate(data.draw(st.lists(times, max_size=6)), start=1)
    ]
    profile = Profile.model_validate({"duration": 200.0, "ambient": 25.0, "events": events})
    inputs = Inputs(Lamp.model_validate(spot()), profile)
    for at_s in (0.0, *profile.jumps()):
        inputs.jump(at_s)
        present = [e.factor for e in profile.events if e.at_s <= at_s < e.until_s]
        assert inputs.condition.airflow == (present[-1] if present else 1.0)
