"""The timeline clock: what happens when, and that nothing is lost between ticks."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from derate.control import command
from derate.control.body import PythonBody
from derate.control.command import ONE_Q15
from derate.lamp.lamp import Lamp
from derate.loop.run import run, time_error_k, trace_of
from derate.loop.timeline import RUNAWAY_C, Timeline
from derate.plant.network import assemble
from derate.plant.plant import Plant
from derate.sensing.chain import Chain, chains_of
from tests.loop.lamps import any_lamp, spot

EXACT_K = 1e-9
"""Two ways through the same arithmetic differ by rounding only."""
EXACT = 1e-9
"""A mean duty is a difference of running sums."""
BALANCE = 1e-9
"""Relative closure of the energy balance that the project promises."""
LAG_K = 0.5
"""The board rises by less than this within the thermistor's lag and one code."""


class Watched(PythonBody):
    """The Python body; no command may pass the request or the limit."""

    def step(self, codes, requests_q15):
        """One control period, its command checked."""
        given_out = super().step(codes, requests_q15)
        for duty, request in zip(given_out.duties_q15, requests_q15, strict=True):
            assert 0 <= duty <= request
            assert duty <= given_out.limit_q15
        return given_out


def record(raw, **options):
    """Run the first profile of a raw lamp file with its Python body."""
    lamp = Lamp.model_validate(raw)
    chains = chains_of(lamp)
    profile = next(iter(lamp.profiles.values()))
    return Timeline(lamp, profile, Watched(lamp, chains), chains, **options).run()


def traced(raw):
    """The trace of a run."""
    recording = record(raw)
    return trace_of(recording.plant.lamp, recording)


def test_a_second_clock_without_simpy_agrees():
    """Stepping plant, chain and controller by hand tick by tick gives the same temperatures."""
    raw = spot()
    ours = record(raw).rows
    lamp = Lamp.model_validate(raw)
    chain = Chain(lamp, "ntc")
    plant, body = Plant(lamp), PythonBody(lamp, (chain,))
    ambient_c, request, duty = np.array([25.0]), np.array([1.0]), np.zeros(1)
    plant.reset(ambient_c)
    body.start()
    for tick in range(1200):
        thermistor_c = float(plant.node_c[plant.sensor_nodes[0]])
        given_out = body.step([chain.sense(thermistor_c)], [ONE_Q15]).duties_q15[0]
        assert np.max(np.abs(plant.node_c - ours["node_c"][tick])) < EXACT_K
        duty[:] = given_out * 4096 // ONE_Q15 / 4096
        heat_w = np.array([chain.self_heat_w(thermistor_c)])
        plant.advance(0.1, duty, request, ambient_c, heat_w)
    assert ours.count == 1201


def test_replayed_intervals_reach_the_same_temperatures():
    """Driving the recorded intervals again ends where the run ended."""
    recording = record(spot())
    again = recording.plant.replay(recording.intervals)
    assert np.max(np.abs(again[-1] - recording.rows["node_c"][-1])) < EXACT_K


def test_same_numbers_same_run():
    """Seed and unit decide all noise and jitter; another unit is another run."""
    raw = spot(timing={"control_jitter": 0.02, "adc_jitter": 0.02})
    raw["sensors"]["ntc"]["adc"]["noise"] = 1.0
    first, again, other = record(raw), record(raw), record(raw, unit=1)
    assert np.array_equal(first.rows["node_c"], again.rows["node_c"])
    assert not np.array_equal(first.rows["node_c"], other.rows["node_c"])


def test_jitter_delays_within_its_bound():
    """A control tick comes late by less than the jitter, never early."""
    rows = record(spot(timing={"control_jitter": 0.03})).rows
    late_s = rows["time_s"][:-1, 0] - 0.1 * np.arange(1200)
    assert late_s.min() >= 0
    assert late_s.max() < 0.03
    assert late_s.max() > 0.02


def test_a_duty_waits_for_the_next_update():
    """With an update period of 0.25 s the duty of t = 0 takes effect at 0.25 s."""
    intervals = record(spot(timing={"update_period": 0.25})).intervals
    begin_s = np.concatenate(([0.0], np.cumsum(intervals["dt_s"][:, 0])[:-1]))
    lit = intervals["duties"][:, 0] > 0
    assert not lit[begin_s < 0.25 - 1e-9].any()
    assert lit[begin_s >= 0.25 - 1e-9].all()


def test_adc_phase_lets_the_controller_see_an_older_code():
    """With the ADC half a period late the controller works on the code before."""
    early = record(spot()).rows["code"][:, 0]
    late = record(spot(timing={"adc_phase": 0.05})).rows["code"][:, 0]
    moving = np.flatnonzero(np.diff(early) != 0)
    assert len(moving) > 10
    assert np.array_equal(late[:2], early[:1].repeat(2))
    assert np.mean(np.abs(late[moving + 1] - early[moving + 1]) > 0) > 0.5


def with_event(**event):
    """The test spot with one event in its profile."""
    raw = spot()
    raw["profiles"]["on"]["events"] = [event]
    return raw


def test_fan_stop_heats():
    """A stopped fan leaves everything before it as it was and makes everything after it hotter."""
    calm = record(spot(controller={"policy": {"kind": "none"}})).rows["node_c"]
    raw = with_event(kind="airflow", factor=0.0, at=60.0)
    raw["controller"] = spot(controller={"policy": {"kind": "none"}})["controller"]
    stopped = record(raw).rows["node_c"]
    assert np.array_equal(calm[:600], stopped[:600])
    assert stopped[-1, 1] > calm[-1, 1] + 1.0


def test_degraded_interface_heats_the_board_only():
    """A bad interface makes the board hotter against the sink by the factor given."""
    raw = with_event(kind="interface degraded", link="interface", factor=3.0, at=0.0)
    raw["controller"]["policy"] = {"kind": "none"}
    raw["profiles"]["on"]["duration"] = 2000.0
    rows = record(raw).rows["node_c"][-1]
    raw["profiles"]["on"]["events"] = []
    good = record(raw).rows["node_c"][-1]
    assert (rows[0] - rows[1]) / (good[0] - good[1]) == pytest.approx(3.0, rel=0.02)


def test_channel_stuck_on_ignores_the_controller():
    """A channel stuck on is driven at full though nothing is asked of it."""
    raw = with_event(kind="channel stuck on", channel="spot", at=10.0, until=20.0)
    raw["profiles"]["on"]["request"] = {"spot": 0.0}
    trace = traced(raw)
    stuck = (trace["time_s"] >= 10.0) & (trace["time_s"] < 20.0)
    assert trace["duty_spot"][stuck] == pytest.approx(1.0, abs=EXACT)
    assert trace["duty_spot"][~stuck] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize("kind", ["sensor open", "sensor short"])
def test_broken_sensor_is_safe_at_the_next_tick(kind):
    """Open and short lead to the safe duty at once and clear after the healthy time."""
    trace = traced(with_event(kind=kind, sensor="ntc", at=30.0, until=40.0))
    time_s, duty, status = trace["time_s"], trace["duty_spot"], trace["status"].astype(int)
    broken = (time_s >= 30.0) & (time_s < 40.0)
    assert (duty[broken] <= 0.1 + EXACT).all()
    assert (status[broken] & command.FAULT != 0).all()
    assert duty[time_s < 30.0].min() > 0.1
    assert (status[time_s > 42.1] & command.FAULT == 0).all()


def test_stuck_sensor_keeps_its_code():
    """A stuck sensor gives the code it had, whatever the board does."""
    rows = record(with_event(kind="sensor stuck", sensor="ntc", at=5.0, until=50.0)).rows
    time_s, code = rows["time_s"][:, 0], rows["code"][:, 0]
    held = code[(time_s >= 5.0) & (time_s < 50.0)]
    assert len(set(held.tolist())) == 1
    assert code[time_s >= 50.0][0] != held[0]


def test_sensor_offset_moves_the_reading():
    """A sensor that reads 10 K low lets the board get 10 K hotter before light is held back."""
    board_c = []
    for offset_k in (-10.0, 0.0):
        raw = with_event(kind="sensor offset", sensor="ntc", offset=offset_k, at=0.0)
        raw["profiles"]["on"] |= {"duration": 600.0, "ambient": 40.0}
        rows = record(raw).rows
        held_back = np.flatnonzero(rows["status"][:, 0] & command.POLICY)
        board_c.append(rows["node_c"][held_back[0], 0])
    assert board_c[0] - board_c[1] == pytest.approx(10.0, abs=LAG_K)


def test_of_two_events_on_one_sensor_the_later_listed_wins():
    """An offset listed after an open sensor takes its place."""
    raw = with_event(kind="sensor open", sensor="ntc", at=5.0)
    raw["profiles"]["on"]["events"].append(
        {"kind": "sensor offset", "sensor": "ntc", "offset": 0.0, "at": 10.0}
    )
    status = record(raw).rows["status"][:, 0]
    assert status[60] & command.FAULT
    assert not status[200] & command.FAULT


def test_a_sensor_stuck_from_the_start_keeps_its_cold_code():
    """Stuck at power-up means the code of that moment, not a short: the dangerous case is run."""
    raw = with_event(kind="sensor stuck", sensor="ntc", at=0.0)
    recording = record(raw)
    cold = recording.chains[0].ideal_code(25.0)
    assert (recording.rows["code"][:, 0] == cold).all()
    assert (recording.rows["status"] & command.FAULT == 0).all()


def test_the_users_dimming_takes_no_light():
    """Without a limit every lumen asked for is delivered, however late the duty follows."""
    raw = spot(timing={"control_period": 1.0, "control_phase": 0.9, "update_period": 0.35})
    raw["controller"]["policy"] = {"kind": "none"}
    raw["profiles"]["on"]["request"] = {
        "spot": {"at": [0.0, 10.0], "value": [1.0, 0.05], "every": 20.0}
    }
    found = run(Lamp.model_validate(raw)).merit
    assert found.share_of_request == pytest.approx(1.0, abs=EXACT)
    assert found.largest_step == pytest.approx(0.0, abs=EXACT)


def test_duty_in_the_trace_is_that_of_the_light():
    """With late updates the trace shows the duty that made the light, not the one before."""
    trace = traced(spot(timing={"control_period": 1.0, "update_period": 0.35}))
    lit = trace["duty_spot"] > 0
    lumens_a_duty = trace["light_spot_lm"][lit] / trace["duty_spot"][lit]
    assert np.ptp(lumens_a_duty) / np.mean(lumens_a_duty) < 0.1


def test_a_runaway_ends_the_run():
    """A lamp whose heat grows faster than it can be shed is stopped and told, never held."""
    raw = spot(controller={"policy": {"kind": "none"}, "cutoff": 124.0})
    raw["emitters"]["white"]["forward_voltage_slope"] = 0.2
    raw["controller"]["body"] = "python"
    raw["sensors"]["ntc"]["at"] = "sink"
    result = run(Lamp.model_validate(raw))
    assert not result.merit.held
    assert any("hotter than any lamp" in warning for warning in result.merit.warnings)
    assert result.trace["time_s"][-1] < 120.0
    assert result.merit.channels["spot"].peak_junction_c == RUNAWAY_C
    assert result.trace["junction_spot_c"].max() == RUNAWAY_C
    assert result.merit.ran_away_at_s == pytest.approx(result.trace["time_s"][-1])


def with_surfaces(**tables):
    """The test spot whose sink sheds by a plate in moved air and by a given surface."""
    raw = spot(**tables)
    raw["links"] = raw["links"][:1]
    plate = {"of": "sink", "kind": "plate", "size": [0.12, 0.08], "facing": "side", "faces": 2}
    raw["surfaces"] = {
        "plate": plate | {"emissivity": 0.9, "airflow": 1.0},
        "rim": {"of": "board", "kind": "given", "resistance": 50.0, "rise": 40.0},
    }
    return raw


def test_surfaces_feel_the_airflow_of_the_profile():
    """A fan that stops makes the lamp hotter though no link depends on it, and books close."""
    calm = record(with_surfaces(controller={"policy": {"kind": "none"}}))
    raw = with_surfaces(controller={"policy": {"kind": "none"}})
    raw["profiles"]["on"]["events"] = [{"kind": "airflow", "factor": 0.0, "at": 60.0}]
    stopped = record(raw)
    assert np.array_equal(calm.rows["node_c"][:600], stopped.rows["node_c"][:600])
    assert stopped.rows["node_c"][-1, 1] > calm.rows["node_c"][-1, 1] + 1.0
    assert set(stopped.intervals["airflow"][:, 0]) == {0.0, 1.0}
    assert set(stopped.intervals["configuration"][:, 0]) == {0}
    again = stopped.plant.replay(stopped.intervals)
    assert np.max(np.abs(again[-1] - stopped.rows["node_c"][-1])) < EXACT_K
    assert 0.0 < time_error_k(stopped) < 1e-3
    tally, start_c = stopped.plant.tally, 25.0
    capacity = assemble(stopped.plant.lamp).capacitance_j_per_k
    stored_j = (capacity @ (stopped.rows["node_c"][-1] - start_c)).sum()
    into_j = tally.heat_j.sum()
    assert abs(into_j - stored_j - tally.ambient_j.sum()) < BALANCE * into_j


def test_crests_stand_beside_the_junctions():
    """Under PWM the trace tells the crest, between full and no duty only; else it does not."""
    raw = spot(driver={"resolution": 12, "frequency": 100.0})
    trace = traced(raw)
    above_k = trace["crest_spot_c"] - trace["junction_spot_c"]
    duty = np.concatenate(([0.0], trace["duty_spot"][:-1]))
    assert np.all(above_k[(duty > 0.01) & (duty < 0.99)] > 0.01)
    assert np.all(above_k[duty == 0.0] == 0.0)
    assert trace.hottest("spot") == "crest_spot_c"
    dimmed = traced(spot(driver={"dimming": "current", "resolution": 12}))
    assert dimmed.hottest("spot") == "junction_spot_c"
    assert "crest_spot_c" not in dimmed


def test_a_limit_passed_by_the_crest_alone_is_told():
    """A limit between mean and crest is passed: in the verdict, and as a happening."""
    raw = spot(driver={"frequency": 20.0}, controller={"policy": {"kind": "none"}})
    raw["profiles"]["on"] |= {"request": {"spot": 0.5}, "duration": 400.0}
    mean_c = traced(raw)["junction_spot_c"].max()
    raw["channels"]["spot"]["junction_limit"] = float(mean_c + 0.2)
    result = run(Lamp.model_validate(raw))
    assert not result.merit.held
    assert result.merit.channels["spot"].peak_junction_c > mean_c + 0.2
    assert any(h.kind == "limit" and h.what.startswith("junction spot") for h in result.happenings)


def test_a_run_of_one_tick_is_a_trace_of_its_rows():
    """Even when the only control tick comes late every column has as many rows as time."""
    raw = spot(timing={"control_period": 1.0, "control_phase": 0.9, "control_jitter": 0.9})
    raw["profiles"]["on"]["duration"] = 1.0
    trace = traced(raw)
    assert {len(trace[name]) for name in trace.names} == {len(trace)}


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(any_lamp())
def test_any_lamp_runs_or_is_refused(raw):
    """A lamp drawn at random runs with its promises kept, or is refused in one sentence."""
    from pydantic import ValidationError

    from derate.errors import InputError

    try:
        recording = record(raw)
    except (InputError, ValidationError):
        return
    assert np.isfinite(recording.rows["node_c"]).all()
    assert_energy_closes(recording)


def assert_energy_closes(recording):
    """Heat in = heat stored + heat out, and electrical energy accounts for light and heat."""
    plant, tally = recording.plant, recording.plant.tally
    lamp = plant.lamp
    capacitance = {n: node.capacitance_j_per_k for n, node in lamp.nodes.items()}
    for name, channel in lamp.channels.items():
        junctions = plant.junctions[name]
        each = lamp.emitters[channel.emitter].junction_capacitance_j_per_k
        alike = Counter(channel.offsets_v)  # branches of equal offset are one group here
        for j, branches in zip(junctions, alike.values(), strict=True):
            capacitance[plant.node_names[j]] = each * channel.series * branches
    for name, sensor in lamp.sensors.items():
        capacitance[f"sensor.{name}"] = sensor.capacitance_j_per_k
    weights = np.array([capacitance[name] for name in plant.node_names])
    end_c = recording.rows["node_c"][-1]
    start_c = lamp.profiles["any"].ambient.value(0.0)
    stored_j = float(weights @ (end_c - start_c))
    into_j, out_j = float(tally.heat_j.sum()), float(tally.ambient_j.sum())
    scale = abs(into_j) + abs(out_j) + float(weights @ np.abs(end_c))
    assert abs(into_j - out_j - stored_j) <= BALANCE * scale
