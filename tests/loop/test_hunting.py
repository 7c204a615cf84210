"""Causes of hunting: each planted cause is named, and the least hysteresis is the least."""

import copy
import functools

import numpy as np
import pytest

from derate.lamp.lamp import Lamp
from derate.loop.cycle import SMALLEST_SWING
from derate.loop.run import run
from tests.loop.lamps import spot

SETTLED_K = 0.15
"""The search for the least hysteresis ends at 0.1 K."""


def hunting_of(raw):
    """What a run says about hunting."""
    return run(Lamp.model_validate(raw)).merit.hunting


@functools.cache
def coarse_step():
    """What is said of the lamp of ``steps`` with 1 K of hysteresis."""
    return hunting_of(steps(1.0))


def steps(hysteresis_k, **more):
    """A spot whose one coarse step makes it cycle in a warm room."""
    raw = spot(**more)
    raw["controller"] |= {
        "policy": {
            "kind": "steps",
            "hysteresis": hysteresis_k,
            "levels": [{"at": 45.0, "limit": 0.4}],
        }
    }
    raw["profiles"]["on"] |= {"duration": 900.0, "ambient": 35.0}
    return raw


def test_coarse_step_is_the_laws_own_fault():
    """No sensing cure stops a step whose both levels rest outside the band."""
    found = coarse_step()
    assert found is not None
    assert found.cause == "control law"
    assert found.swing_limit == pytest.approx(0.6, abs=0.01)


def test_least_hysteresis_stops_it_and_less_does_not():
    """With the hysteresis it names the lamp rests, with clearly less it hunts."""
    least_k = coarse_step().least_hysteresis_k
    assert least_k is not None
    assert hunting_of(steps(least_k + SETTLED_K)) is None
    assert hunting_of(steps(least_k - 1.0)) is not None


def steep(**sensor):
    """A foldback far too steep for what delays it."""
    raw = spot()
    raw["controller"]["policy"] = {"kind": "foldback", "start": 50.0, "end": 50.4}
    raw["sensors"]["ntc"]["adc"] = {"bits": 16}
    raw["profiles"]["on"] |= {"duration": 900.0, "ambient": 35.0}
    raw["sensors"]["ntc"] |= sensor
    return raw


def test_slow_thermistor_is_named():
    """A thermistor and a filter that lag by 20 s each under a steep foldback: named as the lag."""
    raw = steep(capacitance=1.0)
    raw["controller"]["filter_shift"] = 8
    found = hunting_of(raw)
    assert found is not None
    assert found.cause == "lag"
    assert found.period_s > 5.0


def test_slow_poll_is_named():
    """A controller that looks every 8 s under a steep foldback hunts because of its poll."""
    raw = steep(capacitance=0.002)
    raw["timing"] = {"control_period": 8.0}
    found = hunting_of(raw)
    assert found is not None
    assert found.cause == "poll"


def test_current_in_the_reading_is_named():
    """Ground shift that makes more current read hotter hunts at the pace of the loop."""
    raw = steep()
    raw["controller"]["policy"] = {"kind": "foldback", "start": 45.0, "end": 60.0}
    raw["sensors"]["ntc"]["disturbance"] = {"ground": -0.8, "sampling": "free"}
    raw["driver"] = {"dimming": "current", "resolution": 12}
    found = hunting_of(raw)
    assert found is not None
    assert found.cause == "current coupling"


def test_a_well_tuned_lamp_does_not_hunt():
    """The gentle foldback of the test spot settles."""
    raw = spot()
    raw["profiles"]["on"] |= {"duration": 900.0, "ambient": 40.0}
    assert hunting_of(raw) is None


def test_a_fault_that_comes_and_goes_is_named():
    """Two sensors that disagree once the light is full, and agree in safe light, saw at it."""
    raw = spot()
    cold = copy.deepcopy(raw["sensors"]["ntc"]) | {"at": "sink"}
    raw["sensors"]["second"] = cold
    raw["controller"] |= {
        "policy": {"kind": "none"},
        "disagreement": 4.0,
        "safe_duty": 0.05,
        "clear_after": 20.0,
    }
    raw["profiles"]["on"] |= {"duration": 600.0}
    found = run(Lamp.model_validate(raw)).merit
    assert found.hunting is not None
    assert found.hunting.cause == "sensor fault"
    assert found.hunting.least_hysteresis_k is None
    assert found.faults["sensors disagree"].times > 5


def test_a_cutoff_that_comes_and_goes_is_named():
    """Without a policy the cut-off itself switches the lamp off and on."""
    raw = spot()
    raw["controller"] |= {"policy": {"kind": "none"}, "cutoff": 45.0, "hold": 5.0}
    raw["profiles"]["on"] |= {"duration": 900.0, "ambient": 35.0}
    found = hunting_of(raw)
    assert found is not None
    assert found.cause == "cut-off"


def test_rest_means_rest_for_good():
    """The named hysteresis holds in a run ten times as long as the one that named it."""
    raw = steps(coarse_step().least_hysteresis_k + SETTLED_K)
    raw["profiles"]["on"]["duration"] = 9000.0
    limit = run(Lamp.model_validate(raw)).trace["limit"]
    assert np.ptp(limit[len(limit) // 2 :]) < SMALLEST_SWING


def test_an_odd_period_is_no_mistake():
    """A period that cannot be divided into whole nanoseconds does not end the diagnosis."""
    raw = steps(1.0)
    raw["timing"] = {"control_period": 2.000000001}
    assert hunting_of(raw) is not None
