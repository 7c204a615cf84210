"""The plant of a lamp: heat, light, tallies, configuration, and the error of its steps."""

import numpy as np
import pytest

from derate.plant import advance as motion
from derate.plant.network import assemble
from derate.plant.plant import TOLERANCE_K, Plant
from derate.plant.state import Interval
from tests.plant.invented import CHANNEL, LINKS, NODES, SENSOR, WHITE, drive, lamp, twelve_nodes

ROUNDING = 1e-12
"""Relative: the same sum in another order."""
ENERGY = 1e-9
"""Relative: what the plant promises."""
STEADY = 1e-9
"""Relative: the exponentials left after the time waited, and the heat's last change."""
STEPS_K = 10 * TOLERANCE_K
"""Two ways of stepping may differ by a few steps' errors."""
SHARP = WHITE | {
    "forward_voltage_slope_v_per_k": -8e-3,
    "junction_to_solder_resistance_k_per_w": 20.0,
}
"""Heat that depends on the junction far more than any real one's, so that steps matter."""


def at_rest(plant, duties, *, minutes=600, **inputs):
    """Node temperatures after a long time in minutes of constant drive."""
    for _ in range(minutes):
        drive(plant, 60.0, duties, **inputs)
    return plant.node_c.copy()


def test_names_and_places():
    """Nodes come first, then junctions channel by channel, then sensors; limits stand beside."""
    plant = Plant(twelve_nodes())
    assert plant.node_names[:6] == ("board_a", "board_b", "board_c", "board", "sink", "housing")
    assert plant.node_names[6:10] == (
        "junction.wide.0",
        "junction.wide.1",
        "junction.wide.2",
        "junction.spot.0",
    )
    assert plant.node_names[10:] == ("sensor.ntc", "sensor.rim")
    assert plant.junctions["spot"].tolist() == [9]
    assert plant.sensor_nodes.tolist() == [10, 11]
    assert plant.node_index("housing") == 5
    assert plant.limits_c[5] == 60.0
    assert np.isnan(plant.limits_c[0])
    assert plant.limits_c[6:10].tolist() == [110.0] * 4


def test_operating_point_at_rest():
    """At rest every node stands where resistances and the emitter's own heat put it."""
    plant = Plant(lamp())
    board, sink, junction, body = at_rest(plant, [1.0])
    ratio = 1.0 + np.interp(junction, (25, 85), (0, -0.07))  # the curve is close to its chord
    heat_w = 0.7 * (2.99 - 1.5e-3 * (junction - 25.0)) - 0.73 * ratio
    assert sink - 25.0 == pytest.approx(8.0 * heat_w, rel=2e-3)
    assert (board - sink) / (sink - 25.0) == pytest.approx(0.6 / 8.0, rel=STEADY)
    assert (junction - board) / (sink - 25.0) == pytest.approx(4.0 / 8.0, rel=STEADY)
    assert body == pytest.approx(board, rel=STEADY)


@pytest.mark.parametrize("dimming", ["pwm", "current"])
def test_energy_balance_of_a_lamp(dimming):
    """Electrical energy = light + heat, and heat = stored + given off, through a mission."""
    driver = {"efficiency": 0.9, "heat_node": "board", "dimming": dimming}
    plant = Plant(lamp(driver=driver))
    plant.reset(np.array([25.0]))
    start_c = plant.node_c.copy()
    for duty, dt_s in ((1.0, 0.1), (0.3, 5.0), (0.0, 20.0), (0.8, 300.0), (1.0, 1e-3)):
        drive(plant, dt_s, [duty], sensor_heat_w=[1e-3])
    capacity = assemble(plant.lamp).capacitance_j_per_k.sum(axis=0)
    heat_j, out_j = plant.tally.heat_j.sum(), plant.tally.ambient_j.sum()
    assert heat_j - capacity @ (plant.node_c - start_c) - out_j == pytest.approx(
        0.0, abs=ENERGY * heat_j
    )
    assert plant.tally.heat_j[1] == pytest.approx(1e-3 * plant.time_s, rel=ROUNDING)
    loss_j = plant.tally.heat_j[2]
    assert loss_j == pytest.approx(0.1 * plant.tally.electrical_j[0], rel=1e-9)


def test_light_follows_duty_and_junction():
    """With PWM the light is duty times that at full current, less what the hot junction costs."""
    plant = Plant(lamp())
    drive(plant, 1e-9, [0.25], requests=[1.0])
    assert plant.light_lm[0] == pytest.approx(0.25 * 232.0, rel=1e-6)
    assert plant.current_a[0] == pytest.approx(0.25 * 0.7, rel=ROUNDING)
    assert plant.electrical_w[0] == pytest.approx(0.25 * 0.7 * 2.99, rel=1e-6)
    plant.reset(np.array([80.0]))
    drive(plant, 1e-9, [0.5], ambient_c=[80.0])
    between = 0.5 * 232.0 * np.interp(80.0, (25.0, 85.0), (1.0, 0.91))
    assert plant.light_lm[0] == pytest.approx(between, rel=3e-3)  # the curve near its chord


def test_light_asked_is_at_the_same_junction_temperature():
    """Asked over given light: request over duty with PWM, the current curve's ratio without."""
    pwm, current = Plant(lamp()), Plant(lamp(driver={"dimming": "current"}))
    for plant, ratio in ((pwm, 0.7 / 0.35), (current, 232.0 / 124.0)):
        drive(plant, 10.0, [0.5], requests=[1.0])
        assert plant.tally.asked_lm_s[0] / plant.tally.light_lm_s[0] == pytest.approx(
            ratio, rel=1e-9
        )


def test_current_dimming_is_cooler_than_pwm_for_the_same_light():
    """An LED is more efficient at less current, so the same light makes less heat."""
    pwm, current = Plant(lamp()), Plant(lamp(driver={"dimming": "current"}))
    drive(pwm, 1.0, [124.0 / 232.0])
    drive(current, 1.0, [0.5])
    assert current.tally.light_lm_s[0] == pytest.approx(pwm.tally.light_lm_s[0], rel=0.01)
    assert current.tally.heat_j.sum() < pwm.tally.heat_j.sum()


def test_lumped_emitters_equal_single_ones():
    """Six alike emitters as one group, or as six on pads that are one place: the same."""
    channel = CHANNEL | {"series": 3, "parallel": 2, "current_a": 1.4}
    lumped = Plant(lamp({"main": channel}))
    names = [f"pad_{i}" for i in range(6)]  # massless, tied to the board by next to nothing
    nodes = NODES | {name: {} for name in names}
    ties = tuple({"between": (n, "board"), "resistance_k_per_w": 1e-9} for n in names)
    apart = Plant(
        lamp({"main": channel | {"solder_point": names}}, nodes=nodes, links=LINKS + ties)
    )
    for plant in (lumped, apart):  # the same steps for both
        plant.max_step_s, plant.tolerance_k = 0.02, np.inf
    assert len(lumped.junctions["main"]) == 1
    assert len(apart.junctions["main"]) == 6
    for dt_s, duty in ((0.003, 1.0), (20.0, 0.7)):
        drive(lumped, dt_s, [duty])
        drive(apart, dt_s, [duty])
        one, six = lumped.node_c[lumped.junctions["main"]], apart.node_c[apart.junctions["main"]]
        np.testing.assert_allclose(six, np.full(6, one[0]), rtol=1e-6)
        assert apart.light_lm[0] == pytest.approx(lumped.light_lm[0], rel=1e-6)


def test_refinement_is_of_second_order():
    """Halving the largest step divides the error by four while steps resolve the junction."""
    errors = []
    exact = None
    for step_s in (0.4 / 4096, 0.4 / 64, 0.4 / 128, 0.4 / 256):
        plant = Plant(lamp(emitters={"white": SHARP | {"junction_capacitance_j_per_k": 0.05}}))
        plant.max_step_s, plant.tolerance_k = step_s, np.inf
        end_c = drive(plant, 0.4, [1.0])[2]
        if exact is None:
            exact = end_c
        else:
            errors.append(abs(end_c - exact))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.1)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.1)


def test_adaptive_steps_keep_the_tolerance():
    """From dark to full in one call of 100 ms, the junction is right within a few tolerances."""
    coarse, fine = Plant(lamp(emitters={"white": SHARP})), Plant(lamp(emitters={"white": SHARP}))
    fine.max_step_s, fine.tolerance_k = 1e-5, np.inf
    for duty in (1.0, 0.2, 1.0):
        got, desired = drive(coarse, 0.1, [duty]), drive(fine, 0.1, [duty])
        np.testing.assert_allclose(got, desired, atol=STEPS_K)
    np.testing.assert_allclose(coarse.tally.peak_c, fine.tally.peak_c, atol=STEPS_K)
    assert coarse.tally.light_lm_s[0] == pytest.approx(fine.tally.light_lm_s[0], rel=1e-5)


def test_one_step_would_not_do():
    """The same call in a single step is wrong by far more: the adaptive steps are needed."""
    single, fine = Plant(lamp(emitters={"white": SHARP})), Plant(lamp(emitters={"white": SHARP}))
    single.tolerance_k = np.inf
    fine.max_step_s, fine.tolerance_k = 1e-5, np.inf
    got, desired = drive(single, 0.1, [1.0]), drive(fine, 0.1, [1.0])
    assert np.abs(got - desired).max() > 10 * STEPS_K


def test_configuration_keeps_temperatures():
    """Stopping the fan or lifting the paste moves no node of capacity at that instant."""
    plant = Plant(lamp())
    drive(plant, 100.0, [1.0])
    before_c = plant.node_c.copy()
    plant.configure(0.2, {"paste": 5.0})
    assert plant.configuration == 1
    np.testing.assert_allclose(drive(plant, 1e-9, [1.0]), before_c, atol=1e-6)
    steady = at_rest(plant, [1.0], minutes=2000)
    heat_w = (steady[1] - 25.0) * 0.2 / 8.0
    assert steady[0] - steady[1] == pytest.approx(heat_w * 5.0 * 0.6, rel=1e-6)
    plant.configure(1.0, {})
    assert plant.configuration == 0


def test_driver_loss_heats_its_node():
    """P (1/efficiency - 1) of the emitters' power enters the node named by the lamp."""
    plant = Plant(lamp(driver={"efficiency": 0.8, "heat_node": "sink"}))
    drive(plant, 1e-9, [1.0])
    power_w = 0.7 * 2.99
    assert plant.electrical_w[0] == pytest.approx(power_w / 0.8, rel=1e-6)
    assert plant.tally.heat_j[-1] / 1e-9 == pytest.approx(0.25 * power_w, rel=1e-6)


def test_sensor_heats_itself():
    """The measuring current lifts the thermistor above its node by heat times resistance."""
    plant = Plant(lamp())
    warm = at_rest(plant, [0.0], sensor_heat_w=[2e-3])
    assert warm[-1] - warm[0] == pytest.approx(2e-3 * 10.0, rel=1e-6)


def test_sensor_in_the_air_reads_low():
    """A body tied to the ambient as well stands between node and ambient like a divider."""
    plant = Plant(lamp(sensors={"ntc": SENSOR | {"to_ambient_k_per_w": 90.0}}))
    warm = at_rest(plant, [1.0])
    assert warm[-1] - 25.0 == pytest.approx(0.9 * (warm[0] - 25.0), rel=1e-9)


def test_reset_starts_anew():
    """A reset clears the tally and starts in equilibrium, at one or at given temperatures."""
    plant = Plant(twelve_nodes())
    drive(plant, 100.0, [1.0, 1.0])
    plant.reset(np.array([40.0, 40.0]))
    np.testing.assert_allclose(plant.node_c, 40.0, rtol=ROUNDING)
    assert plant.time_s == 0.0
    assert plant.tally.heat_j.sum() == 0.0
    plant.reset(np.array([20.0, 60.0]))
    between = plant.node_c.copy()
    assert np.all((between > 20.0) & (between < 60.0))
    np.testing.assert_allclose(
        drive(plant, 1e4, [0.0, 0.0], ambient_c=[20.0, 60.0]), between, rtol=1e-9
    )
    plant.reset(np.array([20.0, 60.0]), 33.0)
    np.testing.assert_allclose(plant.node_c, 33.0, rtol=ROUNDING)
    plant.reset(np.array([20.0, 60.0]), None, between)
    np.testing.assert_allclose(plant.node_c, between, rtol=ROUNDING)


def test_whole_numbers_do_as_well():
    """Temperatures, duties and times given as whole numbers or lists are what they say."""
    one, other = Plant(lamp()), Plant(lamp())
    one.reset(np.array([25.0]), None, np.array([30.0, 28.0, 35.0, 30.0]))
    other.reset(np.array([25]), None, np.array([30, 28, 35, 30]))
    one.advance(2.0, np.ones(1), np.ones(1), np.array([25.0]), np.zeros(1))
    other.advance(2, [1], [1], [25], [0])
    np.testing.assert_array_equal(other.node_c, one.node_c)
    np.testing.assert_array_equal(other.tally.peak_c, one.tally.peak_c)


def recorded(plant):
    """A mission with a change of airflow, recorded as the loop does."""
    rows = {name: [] for name in ("dt_s", *Interval._fields, "configuration")}
    plant.reset(np.array([25.0, 30.0]))
    node_c = []
    for k in range(40):
        plant.configure(1.0 if k < 20 else 0.5, {})
        duties, requests = np.array([(k % 7) / 6, 1.0]), np.ones(2)
        interval = (duties, requests, np.array([25.0 + k, 30.0]), np.full(2, 1e-4))
        plant.advance(0.05 + 0.01 * k, *interval)
        interval = (*interval, plant.airflow.copy())
        rows["dt_s"].append(0.05 + 0.01 * k)
        rows["configuration"].append(plant.configuration)
        for name, row in zip(Interval._fields, interval, strict=True):
            rows[name].append(row)
        node_c.append(plant.node_c.copy())
    return {name: np.array(rows) for name, rows in rows.items()}, np.array(node_c)


def test_replay_repeats_the_run():
    """Recorded intervals lead to the same temperatures; halved steps differ within tolerances."""
    plant = Plant(twelve_nodes())
    intervals, node_c = recorded(plant)
    tally = plant.tally.peak_c.copy()
    np.testing.assert_allclose(plant.replay(intervals), node_c, rtol=ROUNDING)
    finer = plant.replay(intervals, halved=True)
    error_k = np.abs(finer - node_c).max()
    assert 0.0 < error_k < STEPS_K
    np.testing.assert_array_equal(plant.tally.peak_c, tally)


def test_leaving_the_tables_is_reported():
    """Junctions and currents outside the emitter's tables are named, inside they are not."""
    narrow = WHITE | {
        "junction_c": (25.0, 40.0),
        "radiant_ratio": (1.0, 0.97),
        "luminous_ratio": (1.0, 0.96),
    }
    plant = Plant(lamp(emitters={"white": narrow}))
    drive(plant, 0.1, [1.0])
    assert plant.outside == set()
    at_rest(plant, [1.0], minutes=30)
    (sentence,) = plant.outside
    assert "channel main" in sentence
    assert "25 to 40 degC" in sentence
    dim = Plant(lamp(driver={"dimming": "current"}))
    drive(dim, 1.0, [0.01])
    (sentence,) = dim.outside
    assert "0.007 A" in sentence


def test_a_channel_stuck_on_is_full_duty():
    """A caller that drives duty 1 against a request of 0 gets full light, none of it asked for."""
    plant = Plant(lamp())
    drive(plant, 1.0, [1.0], requests=[0.0])
    assert plant.tally.light_lm_s[0] > 200.0
    assert plant.tally.asked_lm_s[0] == 0.0


def test_the_interpreter_gives_the_same():
    """The uncompiled function gives what the compiled one gives."""
    one, other = Plant(twelve_nodes()), Plant(twelve_nodes())
    inputs = (np.array([1.0, 0.5]), np.ones(2), np.array([25.0, 30.0]), np.zeros(2), np.ones(1))
    one.advance(0.3, *inputs[:-1])
    motion.advance.py_func(
        other.machine, other.modes[0], other.state, other.tally, Interval(*inputs),
        0.3, np.inf, TOLERANCE_K,
    )  # fmt: skip
    np.testing.assert_allclose(other.node_c, one.node_c, rtol=ROUNDING)
