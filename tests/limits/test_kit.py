"""The kit for tests of one's own: what breaks is told and reported, the example to copy runs."""

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from derate.control.command import ONE_Q15, Command
from derate.lamp import load_profile, starter_text
from derate.limits import (
    PromiseBrokenError,
    ambients,
    chains,
    events,
    never_exceeds,
    never_more_light_than_requested,
    profiles,
    recovers_within,
    safe_on_sensor_fault,
    units,
)
from derate.limits.rig import Rig
from tests.limits.lamps import LATE, late_lamp

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "sims" / "test_my_lamp.py"
FAILING = f"""
from hypothesis import given, settings
from derate.lamp import load
from derate.limits import never_exceeds, profiles

LAMP = load({str(LATE)!r}).with_changes({{"channels.spot.junction_limit": 45.0}})


@given(profiles(LAMP))
@settings(max_examples=20, deadline=None, derandomize=True, database=None)
def test_cool(profile):
    never_exceeds(LAMP, profile)
"""
VARYING = {"paste": {"of": ["links.interface.resistance"], "spread": "20 %"}}
QUICK = settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))


class Deaf:
    """A controller that gives what is asked for, whatever it reads; or ``gain`` times that."""

    def __init__(self, gain=1):
        self.gain = gain

    def start(self):
        """Nothing to forget."""

    def step(self, codes, requests_q15):
        """All that is asked for."""
        duties = (self.gain * min(request, ONE_Q15) for request in requests_q15)
        return Command(tuple(duties), ONE_Q15, 0)


@pytest.fixture(scope="module")
def tested(tmp_path_factory):
    """The example to copy and a test that fails, run by pytest; folder and what it said."""
    folder = tmp_path_factory.mktemp("tested")
    (folder / EXAMPLE.name).write_text(EXAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "my_lamp.toml").write_text(starter_text(), encoding="utf-8")
    (folder / "test_cool.py").write_text(FAILING, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
    words = ["-p", "derate.pytest_plugin", "--derate-report", "broken"]
    done = subprocess.run([*command, *words], cwd=folder, capture_output=True, text=True)
    return folder, done.stdout + done.stderr


def test_the_example_runs(tested):
    """The file to copy passes beside the lamp that `derate new` writes."""
    assert "1 failed, 6 passed" in tested[1], tested[1]
    assert "FAILED test_cool.py::test_cool" in tested[1]


def test_a_broken_promise_is_told_and_reported(tested):
    """The failure shows the shrunk history; its run lies in the folder, to be replayed."""
    told = tested[1]
    assert "a promise of the lamp is broken" in told
    assert "K above its limit: ambient 25 degC, full" in told
    (folder,) = (tested[0] / "broken").iterdir()
    assert (folder / "report.html").exists()
    assert f"--profile {folder / 'counterexample.toml'}" in told
    assert load_profile(folder / "counterexample.toml", late_lamp()).request


def test_the_plugin_is_light():
    """Loading it brings neither numba nor matplotlib, nor hypothesis."""
    code = (
        "import sys, derate.pytest_plugin, derate.limits;"
        "print([m for m in ('numba', 'matplotlib', 'hypothesis', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_never_exceeds_in_one_profile():
    """A profile of the lamp by its name, with a guard, and what is told when it is not kept."""
    lamp = late_lamp()
    never_exceeds(lamp, "on", guard_k=30.0)
    with pytest.raises(PromiseBrokenError, match="below its limit, where 60 K are asked for"):
        never_exceeds(lamp, "on", guard_k=60.0)


def test_a_deaf_controller_breaks_its_promises():
    """Bodies of any kind are looked at: one that hears no fault is found, and one that adds."""
    lamp = late_lamp()
    for promise in (never_more_light_than_requested, safe_on_sensor_fault):
        promise(lamp)
    never_more_light_than_requested(lamp, Deaf())
    with pytest.raises(PromiseBrokenError, match=r"sensor open \(ntc\) when cold: 1.000 is driven"):
        safe_on_sensor_fault(lamp, Deaf())
    with pytest.raises(PromiseBrokenError, match="spot is driven at"):
        never_more_light_than_requested(lamp, Deaf(2))


@pytest.mark.parametrize("body", ["c", "python"])
def test_recovery_is_a_setting(body):
    """A fault that clears is over in time; one that latches never is, which is told."""
    lamp = late_lamp(controller__body=body)
    recovers_within(lamp, 30.0)
    with pytest.raises(PromiseBrokenError, match=r"3 s after sensor open .* a fault is still"):
        recovers_within(lamp.with_changes({"controller.clear_after": "8 s"}), 3.0)
    with pytest.raises(PromiseBrokenError, match="a fault is still in force"):
        recovers_within(lamp.with_changes({"controller.latch": True}), 30.0)


def test_a_latch_holds_on_the_rig():
    """Of a fault that is to latch, the rig notices when it is over without a reset, and only it."""
    rig = Rig(late_lamp(controller__latch=True))
    deaf = Rig(late_lamp(controller__latch=True), Deaf())
    for one in (rig, deaf):
        one.breaks("ntc", "sensor open")
        for _ in range(9):
            one.step()
        one.heals("ntc")
        for _ in range(9):
            one.step()
    assert not list(rig.breaches())
    assert [breach.sentence for breach in deaf.breaches()] == [
        "a fault that is to latch is over without a reset"
    ]
    rig.reset()
    rig.step()
    assert not list(rig.breaches())


@given(st.data())
@QUICK
def test_the_strategies_give_what_a_lamp_can_live_through(data):
    """Ambients lie in the span, faults befall its sensors, units and chains are lamps that run."""
    lamp = late_lamp(profiles__on__ambient={"at": [0.0, 9.0], "value": [15.0, 35.0]})
    assert 15.0 <= data.draw(ambients(lamp))["ambient"] <= 35.0
    assert data.draw(events(lamp)).subject == "ntc"
    profile = data.draw(profiles(lamp, faults=("sensor short",)))
    assert profile.duration_s > 0.0
    unit = data.draw(units(late_lamp(tolerances=VARYING)))
    assert 2.3 < unit.links[0].resistance_k_per_w < 3.7
    other = data.draw(chains(lamp))
    assert other.sensors["ntc"].adc.bits in (10, 12)
