"""The course of a profile against the world followed instant by instant, as the timeline does."""

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from derate.control.command import ONE_Q15
from derate.lamp.lamp import Lamp
from derate.loop.course import course_of
from derate.loop.inputs import Inputs
from derate.loop.instant import NANOSECONDS, nanoseconds
from derate.loop.schedule import STUCK
from derate.loop.timeline import instants
from tests.loop.lamps import any_lamp, spot

TIMINGS = [
    {},
    {"control_jitter": 0.01, "adc_jitter": 0.02},
    {"update_period": 0.25, "update_phase": 0.1},
    {"control_phase": 0.07, "adc_period": 0.05, "update_period": 0.03, "control_jitter": 0.05},
]


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(any_lamp(), st.sampled_from(TIMINGS))
def test_what_acts_is_what_the_world_has(raw, timing):
    """At every instant, and in the middle of every interval, all is as `Inputs` have it there."""
    try:
        lamp = Lamp.model_validate(raw | {"timing": raw.get("timing", {}) | timing})
    except ValueError:
        assume(False)
    profile = next(iter(lamp.profiles.values()))
    course, inputs = course_of(lamp, profile, seed=3, unit=2), Inputs(lamp, profile)
    schedule, acting = course.schedule, course.schedule.acting
    end_ns = nanoseconds(profile.duration_s)
    jumps, edges_ns = set(instants(profile, end_ns)), np.rint(course.time_s * NANOSECONDS)
    told = asked = [0] * len(lamp.channels)
    at_once = lamp.timing.update_period_s == 0.0
    for k, row in enumerate(schedule.row):
        if k:
            inputs.move(course.time_s[k])
        if edges_ns[k] in jumps:
            inputs.jump(course.time_s[k])
        assert course.ambient_c[k].tolist() == inputs.ambient_c.tolist()
        assert course.request[k].tolist() == inputs.requests.tolist()
        assert course.airflow[k, 0] == inputs.airflow
        _, degraded = course.configurations[acting.configuration[row]]
        assert degraded == inputs.condition.degraded
        if schedule.control[k] or not inputs.airflow_moves:
            assert acting.airflow[row, 0] == inputs.airflow
        asked = told if schedule.effect[k] else asked
        if schedule.control[k]:
            told = [round(request * ONE_Q15) for request in inputs.requests.tolist()]
        asked = told if at_once else asked
        assert acting.requests_q15[row].tolist() == told
        assert acting.asked_q15[row].tolist() == asked
        assert acting.request[row] == max(inputs.requests.tolist())
        inputs.move((edges_ns[k] + edges_ns[k + 1]) / 2 / NANOSECONDS)
        assert acting.ambient_c[row].tolist() == inputs.ambient_c.tolist()
    assert edges_ns[-1] == end_ns


def test_faults_act_from_their_beginning_to_their_end():
    """A stuck sensor, one that reads off, and a channel that stays on are there for so long."""
    raw = spot()
    raw["profiles"]["on"]["events"] = [
        {"at": 10.0, "kind": "channel stuck on", "channel": "spot", "until": 12.0},
        {"at": 20.0, "kind": "sensor stuck", "sensor": "ntc", "until": 30.0},
        {"at": 40.0, "kind": "sensor offset", "sensor": "ntc", "offset": 3.0, "until": 41.0},
    ]
    lamp = Lamp.model_validate(raw)
    course = course_of(lamp, lamp.profiles["on"])
    schedule, acting = course.schedule, course.schedule.acting
    for column, value, lasting_s in (
        (acting.stuck_on, True, 2.0),
        (acting.wires, STUCK, 10.0),
        (acting.offset_k, 3.0, 1.0),
    ):
        there = column[schedule.row, 0] == value
        assert schedule.dt_s[there].sum() == pytest.approx(lasting_s)
