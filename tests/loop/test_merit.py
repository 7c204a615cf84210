"""Figures of merit on traces whose answers are known, and happenings."""

import numpy as np
import pytest

from derate.control import command
from derate.lamp.lamp import Lamp
from derate.loop import merit
from derate.loop.run import run
from derate.loop.trace import Trace
from derate.report.verdict import verdict
from tests.loop.lamps import SPOT, spot

LIGHT_ABS = 1e-12
"""Sums of a few exactly given numbers."""
ROOM_K = 0.6
"""Reading against thermistor: half a code, the table's 0.1 K and the firmware's own errors."""


def trace_of_share(share, period_s=0.1, asked_lm=100.0):
    """A trace in which the control leaves ``share`` of the light asked for."""
    share = np.asarray(share, float)
    asked = np.broadcast_to(np.asarray(asked_lm, float), share.shape)
    return Trace(
        {
            "time_s": period_s * np.arange(len(share)),
            "request_spot": np.where(asked > 0, 1.0, 0.0),
            "limit": share,
            "status": np.zeros(len(share)),
            "light_lm": share * asked,
            "asked_lm": asked.copy(),
        }
    )


def test_largest_step_is_within_a_second():
    """A fall from 1 to 0.8 in one tick is a step of 20 %; the same over 10 s is 2 %."""
    sudden = [1.0] * 30 + [0.8] * 30
    gentle = np.concatenate((np.ones(30), np.linspace(1.0, 0.8, 100), np.full(30, 0.8)))
    step = merit.largest_step(trace_of_share(sudden))
    assert step.fraction == pytest.approx(0.2, abs=LIGHT_ABS)
    assert (step.before, step.after) == (1.0, 0.8)
    assert 3.0 <= step.at_s <= 4.0
    assert merit.largest_step(trace_of_share(gentle))[0] == pytest.approx(0.0248, abs=0.001)


def test_largest_step_sees_slow_ticks():
    """With ticks of 4 s a step between two of them counts in full."""
    assert merit.largest_step(trace_of_share([1.0, 1.0, 0.5, 0.5], 4.0))[0] == pytest.approx(0.5)


def test_dimming_by_the_user_is_no_step():
    """Light that follows the request makes no step, dark times included."""
    asked = np.array([100.0] * 20 + [30.0] * 20 + [0.0] * 20 + [100.0] * 20)
    assert merit.largest_step(trace_of_share(np.ones(80), asked_lm=asked))[0] == 0.0


def test_throttling_counts_times_and_seconds():
    """Two stretches of 1 s and 0.5 s below the request are two events and 1.5 s."""
    share = np.ones(60)
    share[10:20] = 0.7
    share[40:45] = 0.9
    assert merit.throttling(trace_of_share(share)) == (2, pytest.approx(1.5))


def test_a_sensor_fault_is_no_throttling():
    """Light held down by a fault counts as the fault, not as held back by the policy."""
    trace = trace_of_share([1.0] * 10 + [0.1] * 20 + [1.0] * 10)
    trace.columns["status"][10:30] = command.FAULT | command.OPEN
    assert merit.throttling(trace) == (0, 0.0)
    (cause, fault), *_ = merit.fault_merits(trace).items()
    assert cause == "sensor open"
    assert (fault.times, fault.seconds, fault.first_s) == (1, pytest.approx(2.0), 1.0)


def test_run_adds_up():
    """Light of the channels adds to the whole, the trace integrates to it, margins to limits."""
    result = run(Lamp.model_validate(spot()))
    found, trace = result.merit, result.trace
    channel = found.channels["spot"]
    assert found.light_lm_h == pytest.approx(channel.light_lm_h)
    integral = np.sum(trace["light_lm"][:-1] * np.diff(trace["time_s"])) / 3600
    assert integral == pytest.approx(found.light_lm_h, rel=1e-9)
    assert channel.margin_k == pytest.approx(120.0 - channel.peak_junction_c)
    assert channel.peak_junction_c >= trace["junction_spot_c"].max()
    assert found.held
    assert 0 < found.time_error_k < 0.01
    sensor = found.sensors["ntc"]
    assert -ROOM_K < sensor.worst_low_k <= sensor.worst_high_k < ROOM_K


def test_a_limit_passed_is_told():
    """A sink limit below what the sink reaches gives a negative margin and a happening."""
    raw = spot()
    raw["nodes"]["sink"]["limit"] = 30.0
    result = run(Lamp.model_validate(raw))
    node = result.merit.nodes["sink"]
    assert not result.merit.held
    assert node.margin_k < 0
    assert node.above_limit_s > 10
    over = next(h for h in result.happenings if h.kind == "limit")
    assert over.what.startswith("sink over 30 degC")
    assert over.at_s == pytest.approx(120.0 - node.above_limit_s, abs=0.11)


def test_solder_points_have_limits():
    """Their limit is judged at their node, marked where it is passed, and counts in the verdict."""
    channel = SPOT["channels"]["spot"] | {"solder_limit": 35.0}
    result = run(Lamp.model_validate(spot(channels={"spot": channel})), "on")
    found, column = result.merit.nodes["solder.spot"], result.trace["node_solder.spot_c"]
    np.testing.assert_array_equal(column, result.trace["node_board_c"])
    assert found.limit_c == 35.0
    assert found.peak_c >= column.max()
    assert not result.merit.held
    assert [h.what for h in result.happenings if h.kind == "limit"] == [
        "solder point of spot over 35 degC"
    ]
    assert verdict(result).startswith("Exceeded: solder point of spot ")


def test_sensor_fault_is_a_happening_and_not_an_error_of_reading():
    """An open sensor is marked with its cause and leaves the sensing error alone."""
    raw = spot()
    raw["profiles"]["on"]["events"] = [
        {"kind": "sensor open", "sensor": "ntc", "at": 30.0, "until": 40.0}
    ]
    result = run(Lamp.model_validate(raw))
    seen = [h for h in result.happenings if h.kind == "fault"]
    assert [h.what for h in seen] == ["fault seen: sensor open"]
    assert seen[0].at_s == pytest.approx(30.0)
    assert result.merit.sensors["ntc"].worst_low_k > -ROOM_K
    status = result.trace["status"].astype(int)
    assert np.isnan(result.trace["reading_ntc_c"][(status & command.OPEN) != 0][:50]).all()


def test_trace_goes_to_pandas_by_time():
    """The data frame has the columns of the trace, indexed by time."""
    trace = run(Lamp.model_validate(spot())).trace
    frame = trace.to_pandas()
    assert list(frame.columns) == list(trace.names[1:])
    assert frame.index.name == "time_s"
