"""The batch clock against the timeline: the same lamp, unit and seed, the same run."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.loop.batch import Batch, BatchResult, Specimen, run_batch
from derate.loop.body import body_for
from derate.loop.cycle import SMALLEST_SWING, steady_windows, turning_points
from derate.loop.run import run, trace_of
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from tests.loop.lamps import any_lamp, spot
from tests.plant.board.test_lumped_lamp import board_lamp

EXACT_K = 1e-9
"""Two ways through the same arithmetic differ by rounding only."""
EXACT = 1e-9
"""The same for sums, as a share of them."""
BOARDS_K = 0.02
"""A unit's board in the nominal's nodes against one reduced by itself, dielectric a tenth worse."""
FIGURES = [
    field.name for field in fields(BatchResult) if field.name not in ("node_names", "recordings")
]
HUNTING = {
    "policy": {"kind": "steps", "hysteresis": 0.5, "levels": [{"at": 60.0, "limit": 0.3}]},
    "release": 5.0,
    "attack": 5.0,
}


def profile_of(lamp):
    """The first profile of a lamp."""
    return next(iter(lamp.profiles.values()))


def noisy(**tables):
    """The test spot with the C controller, a noisy converter and a longer, hotter profile."""
    raw = spot(**{"controller": {"body": "c"}} | tables)
    raw["sensors"]["ntc"]["adc"] = {"bits": 10, "noise": 1.0, "oversampling": 2}
    raw["sensors"]["ntc"]["disturbance"] = {"ground": 0.01, "sampling": "free"}
    raw["profiles"]["on"] |= {"duration": 300.0, "ambient": 45.0}
    return raw


def on_timeline(lamp, unit=0, firmware=None):
    """A unit's recording by the reference clock, under the firmware of another lamp if given."""
    chains = chains_of(lamp)
    body = body_for(firmware or lamp, chains)
    return Timeline(lamp, profile_of(lamp), body, chains, unit=unit).run()


def with_other_numbers(raw, share):
    """A lamp file of the same topology with other resistances."""
    links = [link | {"resistance": link["resistance"] * share} for link in raw["links"]]
    return Lamp.model_validate(raw | {"links": links})


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(any_lamp(), st.floats(0.7, 1.4), st.sampled_from(["same share", "hottest first"]))
def test_any_lamp_runs_as_on_the_timeline(raw, share, way):
    """Every temperature at every tick, every sum and peak are those of the timeline."""
    raw["controller"] |= {"body": "c", "sharing": {"way": way}}
    try:
        lamps = [Lamp.model_validate(raw), with_other_numbers(raw, share)]
        recordings = [on_timeline(lamp, unit, lamps[0]) for unit, lamp in enumerate(lamps)]
    except InputError:
        assume(False)
    batch = run_batch(
        lamps[0], profile_of(lamps[0]), (0, 1), unit_lamp=lamps.__getitem__, trace_units=(0, 1)
    )
    for unit, (lamp, ours) in enumerate(zip(lamps, recordings, strict=True)):
        rows, tally = batch.recordings[unit].rows, ours.plant.tally
        for name in ("time_s", "node_c", "ripple_k", "code", "limit_q15", "status", "airflow"):
            assert rows[name] == pytest.approx(ours.rows[name], abs=EXACT_K), name
        assert batch.peak_c[unit] == pytest.approx(tally.peak_c, abs=EXACT_K)
        assert batch.above_s[unit] == pytest.approx(tally.above_s, abs=EXACT)
        assert batch.light_lm_s[unit] == pytest.approx(tally.light_lm_s, rel=EXACT)
        assert batch.asked_lm_s[unit] == pytest.approx(tally.asked_lm_s, rel=EXACT)
        assert batch.electrical_j[unit] == pytest.approx(tally.electrical_j[0], rel=EXACT)
        assert_traces_agree(trace_of(lamp, ours), trace_of(lamp, batch.recordings[unit]))
    beside = run_batch(lamps[0], profile_of(lamps[0]), (0, 1), unit_lamp=lamps.__getitem__)
    assert_figures_agree(batch, beside)


def assert_figures_agree(ours, theirs):
    """Two batches of the same units have the same figures."""
    for name in FIGURES:
        one, other = getattr(ours, name), getattr(theirs, name)
        assert other == pytest.approx(one, abs=EXACT_K, rel=EXACT, nan_ok=True), name


def assert_traces_agree(ours, theirs):
    """Every column of two traces is the same."""
    assert ours.names == theirs.names
    for name in ours.names:
        assert theirs[name] == pytest.approx(ours[name], abs=EXACT_K, nan_ok=True), name


def test_figures_are_those_of_the_report():
    """Margin, time throttled and first violation of a unit are those that a run's merit tells."""
    raw = noisy()
    raw["channels"]["spot"]["junction_limit"] = 52.0
    lamp = Lamp.model_validate(raw)
    batch = run_batch(lamp, profile_of(lamp), (7,))
    result = run(lamp, profile_of(lamp), unit=7)
    channel, trace = result.merit.channels["spot"], result.trace
    assert result.merit.throttled_s > 0
    assert batch.margin_k[0] == pytest.approx(channel.margin_k, abs=EXACT_K)
    assert batch.throttled_s[0] == pytest.approx(result.merit.throttled_s, rel=EXACT)
    first = trace["time_s"][np.argmax(trace["crest_spot_c"] > 52.0)]
    assert abs(batch.first_above_s[0] - first) <= lamp.timing.control_period_s


def test_reversals_are_the_turns_of_the_limit():
    """A lamp that hunts turns as often as its trace shows."""
    raw = noisy(controller={"body": "c", **HUNTING})
    lamp = Lamp.model_validate(raw)
    batch = run_batch(lamp, profile_of(lamp), (3,), trace_units=(3,))
    trace = trace_of(lamp, batch.recordings[0])
    held = np.minimum(trace["limit"], trace["request_spot"])
    turns = [turning_points(held[a : b + 1], SMALLEST_SWING)[1:] for a, b in steady_windows(trace)]
    assert batch.reversals[0] > 20
    assert abs(batch.reversals[0] - sum(map(len, turns))) <= 1


def test_neither_threads_nor_order_matter():
    """Units have the same figures on one thread or two, forwards or backwards, alone or not."""
    lamp = Lamp.model_validate(noisy())
    units = tuple(range(150))
    one = run_batch(lamp, profile_of(lamp), units, threads=1)
    two = run_batch(lamp, profile_of(lamp), units[::-1], threads=2)
    alone = run_batch(lamp, profile_of(lamp), (99,))
    assert np.array_equal(one.peak_c, two.peak_c[::-1])
    assert np.array_equal(one.node_c, two.node_c[::-1])
    assert np.array_equal(one.peak_c[99], alone.peak_c[0])
    assert len(np.unique(one.node_c[:, 0])) > 100


def test_a_seed_is_another_draw():
    """Another seed is another run of the same unit."""
    lamp = Lamp.model_validate(noisy())
    seeds = [run_batch(lamp, profile_of(lamp), (0,), seed=seed).node_c for seed in (0, 1)]
    assert not np.array_equal(*seeds)


def test_a_runaway_ends_its_unit_only():
    """A unit that runs away stops where the timeline stops it; its neighbour goes on."""
    raw = noisy()
    raw["controller"] |= {"policy": {"kind": "none"}, "cutoff": 124.0}
    raw["emitters"]["white"]["forward_voltage_slope"] = 0.2
    raw["sensors"]["ntc"]["at"] = "sink"
    hot, cool = Lamp.model_validate(raw), with_other_numbers(raw, 1e-2)
    batch = run_batch(hot, profile_of(hot), (0, 1), unit_lamp=[hot, cool].__getitem__)
    ours = on_timeline(hot)
    assert ours.ran_away
    assert batch.ran_away_s[0] == pytest.approx(ours.plant.time_s, abs=EXACT)
    assert np.isnan(batch.ran_away_s[1])
    assert batch.node_c[0] == pytest.approx(ours.plant.node_c, abs=EXACT_K)


@pytest.mark.parametrize(
    "timing",
    [
        {"adc_period": 0.05, "adc_phase": 0.02},
        {"control_phase": 0.07, "adc_phase": 0.03},
        {"update_period": 0.25, "update_phase": 0.1},
        {"control_jitter": 0.01, "adc_jitter": 0.02, "update_period": 0.03},
    ],
    ids=lambda timing: "+".join(timing),
)
def test_tasks_of_their_own(timing):
    """ADC, control and update may each have period, phase and jitter; events fall in between."""
    raw = noisy(timing=timing)
    raw["profiles"]["on"]["events"] = [
        {"at": 61.23, "kind": "channel stuck on", "channel": "spot", "until": 63.0},
        {"at": 100.0, "kind": "sensor stuck", "sensor": "ntc", "until": 130.01},
    ]
    lamp = Lamp.model_validate(raw)
    batch = run_batch(lamp, profile_of(lamp), range(9))
    for unit in (0, 8):
        tally = on_timeline(lamp, unit).plant.tally
        assert batch.peak_c[unit] == pytest.approx(tally.peak_c, abs=EXACT_K)
        assert batch.light_lm_s[unit] == pytest.approx(tally.light_lm_s, rel=EXACT)
        assert batch.asked_lm_s[unit] == pytest.approx(tally.asked_lm_s, rel=EXACT)


def test_units_with_boards():
    """Units whose boards differ in numbers share nodes, and run as boards of their own would."""
    profile = {"duration": 120.0, "ambient": 30.0, "request": {"main": 1.0}}
    nominal = board_lamp(front=None).with_changes({"controller.body": "c"})
    nominal = nominal.with_changes({"profiles": {"on": profile}})
    thin = nominal.with_changes({"board.dielectric.conductivity": 1.98})
    batch = run_batch(nominal, profile_of(nominal), (0, 1), unit_lamp=[nominal, thin].__getitem__)
    for unit, lamp in enumerate((nominal, thin)):
        ours = on_timeline(lamp, unit, nominal)
        hottest = ours.plant.junctions["main"]
        peak_c = ours.plant.tally.peak_c[hottest]
        nearness_k = (EXACT_K, BOARDS_K)[unit]
        assert batch.peak_c[unit][hottest] == pytest.approx(peak_c, abs=nearness_k)
    assert np.abs(batch.peak_c[1][hottest] - batch.peak_c[0][hottest]).min() > 5 * BOARDS_K


def test_other_topologies_are_told():
    """A unit with another node is refused with a sentence."""
    lamp = Lamp.model_validate(noisy())
    raw = noisy()
    raw["nodes"] = raw["nodes"] | {"more": {"capacitance": 1.0}}
    raw["links"] = [*raw["links"], {"between": ["more", "sink"], "resistance": 1.0}]
    other = Lamp.model_validate(raw)
    with pytest.raises(InputError, match="found other nodes"):
        run_batch(lamp, profile_of(lamp), (0, 1), unit_lamp=[lamp, other].__getitem__)


@pytest.mark.parametrize(
    "policy",
    [
        {"kind": "pi", "setpoint": 50.0, "gain": 0.05, "integral": 0.01, "floor": 0.1},
        {"kind": "tests.control.own_policies:Methods", "start": "45 degC"},
        {"kind": "tests.control.own_policies:Squares", "start": "45 degC"},
    ],
    ids=["built in", "own", "interpreted"],
)
def test_a_controller_in_python(policy):
    """Compiled or called back, it gives to the last bit what it gives on the timeline."""
    raw = noisy(controller={"body": "python", "policy": policy})
    raw["profiles"]["on"]["duration"] = 60.0
    lamp, other = Lamp.model_validate(raw), with_other_numbers(raw, 0.9)
    batch = run_batch(lamp, profile_of(lamp), range(9), unit_lamp=lambda n: (lamp, other)[n % 2])
    assert batch.least_limit.max() < 0.95
    for unit in (0, 7):
        tally = on_timeline((lamp, other)[unit % 2], unit, lamp).plant.tally
        assert np.array_equal(batch.peak_c[unit], tally.peak_c)
        assert np.array_equal(batch.light_lm_s[unit], tally.light_lm_s)


@pytest.mark.parametrize("name", ["Halts", "Squared"])
def test_what_a_policy_raises_is_raised(name):
    """A policy of one's own that fails, compiled or called back, fails the batch in a sentence."""
    policy = {"kind": f"tests.control.own_policies:{name}", "start": "45 degC"}
    lamp = Lamp.model_validate(noisy(controller={"body": "python", "policy": policy}))
    with pytest.raises(InputError, match="whose limit"):
        run_batch(lamp, profile_of(lamp), range(3))


def test_other_settings_need_no_other_program():
    """A unit with settings of its own runs as the lamp that has them from the start."""
    lamp = Lamp.model_validate(noisy())
    other = lamp.with_changes({"controller.policy.start": "40 degC", "controller.filter_shift": 2})
    specimens = [Specimen(0, lamp), Specimen(0, lamp, firmware=other), Specimen(1, lamp)]
    mixed = Batch(lamp, profile_of(lamp)).run(specimens)
    alone = run_batch(other, profile_of(other), (0,))
    assert mixed.node_c[1] == pytest.approx(alone.node_c[0], abs=EXACT_K)
    assert mixed.light_lm_s[1] == pytest.approx(alone.light_lm_s[0], rel=EXACT)
    assert mixed.light_lm_s[0] != pytest.approx(alone.light_lm_s[0], rel=1e-3)


def test_a_unit_may_stand_elsewhere():
    """A shifted ambient and another airflow are those of the profile changed so."""
    raw = noisy()
    raw["links"] = [link | {"airflow": "ambient" in link["between"]} for link in raw["links"]]
    raw["profiles"]["on"]["airflow"] = 0.8
    lamp = Lamp.model_validate(raw)
    specimen = Specimen(5, lamp, shift_k=3.5, airflow=1.25)
    ours = Batch(lamp, profile_of(lamp)).run([specimen, specimen], trace=(1,))
    raw["profiles"]["on"] |= {"ambient": raw["profiles"]["on"]["ambient"] + 3.5, "airflow": 1.0}
    there = Lamp.model_validate(raw)
    theirs = on_timeline(there, unit=5)
    for u in range(2):
        assert ours.node_c[u] == pytest.approx(theirs.plant.node_c, abs=EXACT_K)
        assert ours.peak_c[u] == pytest.approx(theirs.plant.tally.peak_c, abs=EXACT_K)
    assert ours.recordings[1].rows["ambient_c"][-1] == pytest.approx(48.5)
