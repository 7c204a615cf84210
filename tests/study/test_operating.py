"""A lamp asked for its rests: command, thermistors' own heat, limits, what is read."""

import numpy as np
import pytest

from derate.loop.body import body_for
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from derate.study.operating import HEAT_EXACT_K, mix_of
from derate.study.sense import Sense
from tests.study.lamps import LUMPED, demo, made, operating, spot

RESTED_K = 1e-3
"""A run of some ten time constants against the rest it comes to."""
ROUNDING = 1e-12


@pytest.mark.parametrize("name", LUMPED)
def test_where_an_uncontrolled_run_comes_to(name):
    """The closed loop without a policy ends at the rest: nodes, thermistors and code agree."""
    quiet = {f"sensors.{sensor}.adc.noise": "0 LSB" for sensor in demo(name).sensors}
    lamp = demo(name).with_changes(
        quiet | {"controller.policy": {"kind": "none"}, "controller.cutoff": 120.0,
                 "controller.body": "python", "controller.max_jump": None,
                 "timing.control_period": "20 s", "timing.adc_period": "20 s",
                 "timing.adc_phase": None}
    )  # fmt: skip
    profile = spot()["profiles"]["on"] | {
        "duration": 4 * 3600.0,
        "ambient": 31.0,
        "request": dict.fromkeys(lamp.channels, 1.0),
    }
    profile = type(next(iter(lamp.profiles.values()))).model_validate(profile)
    chains = chains_of(lamp)
    recording = Timeline(lamp, profile, body_for(lamp, chains), chains).run()
    ready = operating(lamp)
    rest = ready.at(1.0, 31.0)
    np.testing.assert_allclose(rest.node_c, recording.plant.node_c, rtol=0, atol=RESTED_K)
    for number, sense in enumerate(ready.senses):
        body_c = rest.node_c[ready.resting.sensor_nodes[number]]
        code = sense.code(body_c, sense.current_a(rest.duties))
        assert code == recording.rows["code"][-1, number]


def test_own_heat_of_the_thermistor():
    """The body is warmer than its place by what its own current sets free times its resistance."""
    sensors = {"ntc": spot()["sensors"]["ntc"] | {"resistance": 500.0}}
    ready = operating(made(sensors=sensors))
    rest = ready.at(0.5, 25.0)
    body_c = float(rest.node_c[ready.resting.sensor_nodes[0]])
    own_k = 500.0 * ready.senses[0].chain.self_heat_w(body_c)
    assert own_k > 0.1
    above_k = body_c - rest.node_c[ready.node("board")]
    assert above_k == pytest.approx(own_k, abs=2 * HEAT_EXACT_K)


def test_mix_of_requests():
    """The largest request is 1 of the mix; a lamp that is not asked for light mixes all alike."""
    lamp = demo("cycle_front_lamp")
    mix = mix_of(lamp, {"low_beam": 0.4, "high_beam": 0.1})
    np.testing.assert_allclose(mix, [1.0, 0.25], rtol=ROUNDING)
    np.testing.assert_allclose(mix_of(lamp, {"low_beam": 0.0}), [1.0, 1.0])
    ready = operating(lamp, low_beam=0.4, high_beam=0.1)
    np.testing.assert_allclose(ready.at(0.4, 25.0).duties, [0.4, 0.1], rtol=ROUNDING)


def test_a_command_above_one_raises_the_currents():
    """Half as much again is the lamp with half as much current again in its file."""
    lamp = made()
    lamp = lamp.with_changes({"channels.spot.current": 0.6})
    harder = lamp.with_changes({"channels.spot.current": 0.9})
    here, there = operating(lamp).at(1.5, 25.0), operating(harder).at(1.0, 25.0)
    np.testing.assert_allclose(here.node_c, there.node_c, rtol=0, atol=2 * HEAT_EXACT_K)
    np.testing.assert_allclose(here.light_lm, there.light_lm, rtol=1e-9)


def test_the_nearest_limit_is_the_one_with_least_room():
    """A node of the file limits where it is nearer to its limit than any junction is."""
    lamp = made(nodes={"sink": {"capacitance": 40.0, "limit": 40.0}})
    ready = operating(lamp)
    margin_k, node = ready.nearest(ready.at(1.0, 25.0))
    assert ready.names[node] == "sink"
    assert margin_k == pytest.approx(40.0 - ready.at(1.0, 25.0).node_c[node], rel=ROUNDING)
    junctions = ready.resting.junctions["spot"]
    margin_k, node = ready.nearest(ready.at(1.0, 25.0), junctions.tolist())
    assert node in junctions
    assert margin_k > 0.0


def test_smooth_reading_is_the_reading_between_codes():
    """Without steps the reading lies within a code of what the firmware makes of the code."""
    ready = operating(demo("stage_wash"))
    sense = ready.senses[0]
    for body_c in np.linspace(0.0, 110.0, 23):
        current_a = 2.0
        code = sense.code(body_c, current_a)
        step_k = abs(sense.chain.reading_c(code + 1) - sense.chain.reading_c(code - 1)) / 2
        reading_c = sense.chain.reading_c(code)
        off_k = sense.smooth_c(body_c, current_a) - reading_c
        assert abs(off_k) <= step_k + sense.chain.lookup.error_k


@pytest.mark.parametrize("deviation", [{}, {"r25": 0.02, "resistor": -0.01, "offset_lsb": 3.0}])
def test_the_code_is_the_chains(deviation):
    """Without noise the code is what the lamp's own chain converts, also of a unit's own parts."""
    sensor = spot()["sensors"]["ntc"] | {"deviation": deviation}
    sensor["adc"] = {"bits": 12, "offset": 1.5, "gain_error": 0.002, "inl": 2.0}
    sensor["disturbance"] = {"ground": 0.004, "supply": 0.01}
    lamp = made(sensors={"ntc": sensor})
    sense = Sense(lamp, "ntc")
    for body_c in np.linspace(-20.0, 120.0, 57):
        assert sense.code(body_c, 0.7) == sense.chain.sense(body_c, 0.7)
