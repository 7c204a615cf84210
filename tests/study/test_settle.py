"""Where control comes to rest, against runs of the closed loop."""

import math

import numpy as np
import pytest

from derate.control.shares import shared_duties, shares_of
from derate.lamp import Profile
from derate.loop.body import body_for
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from derate.study.settle import settled
from tests.study.lamps import SPOT, demo, made, operating

CODE_K = 0.15
"""A step of the test spot's converter between 40 and 70 degC, and what its table adds."""
ONE_Q15 = 32768
HOURS = 3600.0
WARM = [SPOT["links"][0], {"between": ["sink", "ambient"], "resistance": 6.0}]
"""A spot that gets too warm for its policies."""


def controlled(policy, **controller):
    """The warm spot under a policy, quick ramps, no filter."""
    parts = {"body": "python", "cutoff": 100.0, "safe_duty": 0.1, "policy": policy}
    return made(links=WARM, controller=parts | controller)


def ended(lamp, ambient_c, hours=2.0):
    """Limit, hottest reading and nodes over the last tenth of a run at full request."""
    lamp = lamp.with_changes({"timing.control_period": 2.0, "timing.adc_period": 2.0})
    profile = Profile.model_validate(
        {
            "duration": hours * HOURS,
            "ambient": ambient_c,
            "request": dict.fromkeys(lamp.channels, 1.0),
        }
    )
    chains = chains_of(lamp)
    rows = Timeline(lamp, profile, body_for(lamp, chains), chains).run().rows
    last = slice(-int(0.1 * len(rows["limit_q15"])), None)
    readings_c = [chains[0].reading_c(int(code)) for code in rows["code"][last, 0]]
    return rows["limit_q15"][last, 0] / ONE_Q15, np.array(readings_c)


FOLDBACK = {"kind": "foldback", "start": 45.0, "end": 70.0, "floor": 0.1}
PI = {"kind": "pi", "setpoint": 50.0, "gain": 0.02, "integral": 0.0005}
STEPS = {
    "kind": "steps",
    "hysteresis": 9.0,
    "levels": [{"at": 45.0, "limit": 0.9}, {"at": 55.0, "limit": 0.85}],
}


@pytest.mark.parametrize(
    "policy", [{"kind": "none"}, FOLDBACK, FOLDBACK | {"hysteresis": 2.0}, PI, STEPS]
)
@pytest.mark.parametrize("ambient_c", [5.0, 30.0])
def test_where_a_run_settles(policy, ambient_c):
    """Limit and reading are those that a run of two hours ends with, within a code."""
    lamp = controlled(policy, cutoff=110.0)
    found = settled(operating(lamp), {"spot": 1.0}, ambient_c)
    limit, reading_c = ended(lamp, ambient_c)
    assert found.settles
    slope_per_k = max(0.9 / 25.0, PI["gain"])
    assert found.limit == pytest.approx(limit.mean(), abs=slope_per_k * CODE_K)
    assert found.reading_c["ntc"] == pytest.approx(reading_c.mean(), abs=2 * CODE_K)
    assert not found.cut_off
    share = f"{100 * found.limit:.3g} %"
    assert share in found.sentence


def test_steps_that_go_to_and_fro():
    """Where no level leads to a temperature at which it stays, the two between are told.

    The run does so too: it is at both limits, and each rest is beyond where the other one takes
    over.
    """
    lamp = controlled(
        {"kind": "steps", "hysteresis": 2.0, "levels": [{"at": 50.0, "limit": 0.3}]}, cutoff=110.0
    )
    found = settled(operating(lamp), {"spot": 1.0}, 25.0)
    assert not found.settles
    (full, warm_c), (reduced, cool_c) = found.between
    assert (full, reduced) == (1.0, 0.3)
    assert warm_c > 50.0
    assert cool_c < 48.0
    assert found.limit == reduced
    limit, _ = ended(lamp, 25.0)
    assert set(np.round(limit, 3)) == {0.3, 1.0}


def test_a_wide_hysteresis_lets_them_rest():
    """The same steps stay reduced once the hysteresis reaches below the reduced rest."""
    steps = {"kind": "steps", "hysteresis": 25.0, "levels": [{"at": 50.0, "limit": 0.3}]}
    found = settled(operating(controlled(steps, cutoff=110.0)), {"spot": 1.0}, 25.0)
    assert found.settles
    assert found.limit == 0.3


def test_the_cut_off_comes_and_goes():
    """Without a policy a lamp too hot for its cut-off goes dark and comes back, without end."""
    found = settled(operating(controlled({"kind": "none"}, cutoff=60.0)), {"spot": 1.0}, 25.0)
    assert not found.settles
    assert found.cut_off
    assert {limit for limit, _ in found.between} == {0.0, 1.0}
    assert "cut-off" in found.sentence


def test_a_sensor_in_its_fault_window_leads_to_the_safe_duty():
    """Where the reading is a fault the limit is the safe duty."""
    sensor = SPOT["sensors"]["ntc"] | {"disturbance": {"ground": 3.0, "sampling": "on"}}
    lamp = made(sensors={"ntc": sensor})
    ready = operating(lamp)
    assert math.isnan(ready.readings_c(ready.at(0.1, 25.0))[0])
    found = settled(ready, {"spot": 1.0}, 25.0)
    assert found.limit == 0.1


def test_requests_below_one_are_what_the_limit_scales():
    """At half the request the same policy allows more: it acts on what is then the reading."""
    ready = operating(controlled(FOLDBACK), spot=0.5)
    full = settled(operating(controlled(FOLDBACK)), {"spot": 1.0}, 30.0)
    half = settled(ready, {"spot": 0.5}, 30.0)
    assert full.limit < half.limit < 1.0
    assert half.limit * 0.5 == pytest.approx(
        float(ready.at(0.5 * half.limit, 30.0).duties[0]), rel=1e-12
    )
    assert half.light_lm < full.light_lm


def test_limits_that_are_passed_are_told():
    """A policy that settles beyond a junction's limit does not hold it."""
    channel = SPOT["channels"]["spot"]
    strict = made(links=WARM, channels={"spot": channel | {"junction_limit": 55.0}})
    assert not settled(operating(strict), {"spot": 1.0}, 30.0).holds
    assert settled(operating(made(links=WARM)), {"spot": 1.0}, 30.0).holds


def test_a_policy_that_predicts_rests_where_it_aims():
    """Its observer counts as settled: the junction comes to rest at most at its limit less guard,
    and no more than what the estimate is too high and the band below."""
    policy = {"kind": "predictive", "band": "1 K", "guard": "2 K"}
    lamp = controlled(policy).with_changes({"channels.spot.junction_limit": "70 degC"})
    found = settled(operating(lamp), {"spot": 1.0}, 30.0)
    assert found.settles
    assert 0.1 < found.limit < 1.0
    assert 62.0 < found.junction_c["spot"] <= 68.0


def test_a_policy_of_ones_own(tmp_path):
    """A class of the user's is asked like any other."""
    lamp = demo("hand_lamp").with_changes(
        {
            "controller.body": "python",
            "controller.policy": {"kind": "tests.study.own_policy:Halved", "start": "30 degC"},
        }
    )
    found = settled(operating(lamp, 0.05), dict.fromkeys(lamp.channels, 1.0), 35.0)
    assert found.settles
    assert found.limit == 0.5


def test_channels_that_share_by_turns_settle_so():
    """The light at rest is that of the duties which the table gives at the limit found."""
    lamp = demo("stage_wash").with_changes({"controller.sharing": {"way": "hottest first"}})
    ready, requests = operating(lamp, 0.05), dict.fromkeys(lamp.channels, 1.0)
    found = settled(ready, requests, 28.0)
    duties = shared_duties(shares_of(lamp), found.limit, np.ones(len(requests)))
    assert duties.min() < 0.9 * found.limit < found.limit < duties.max()
    assert found.light_lm == pytest.approx(ready.under(duties, 28.0).light_lm.sum(), rel=1e-9)
    assert found.sentence.startswith(f"Settles at a limit of {100 * found.limit:.3g} %, hottest")
