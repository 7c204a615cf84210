"""The lamp at rest: against the timeline's plant, a root search, closed forms, and limits."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numba import typeof
from scipy.optimize import brentq, root

from derate.plant.plant import Plant
from derate.plant.rest import resting
from derate.plant.steady import RUNAWAY_C
from tests.loop.closed_loop_ivp import Circuit
from tests.plant.invented import CHANNEL, LINKS, NODES, SENSOR, WHITE, drive, lamp, twelve_nodes
from tests.plant.surface.invented import FINS, GIVEN, PLATE
from tests.study.lamps import DRAWN, demo

RESTED_K = 1e-7
"""What is left of a warming after the times waited for, and what the plant's steps may err."""
ROOT_K = 1e-8
"""The second computation's own accuracy."""
FACES_K = 1e-5
"""Boards made with other patterns tell the uneven shedding of their faces by so much the same."""
ROUNDING = 1e-9
"""Relative: sums in another order, and the residual at which a rest is taken for exact."""
LONG_S = 1e5
"""Hundreds of the time constants of these lamps."""

duties_of = st.floats(0.0, 1.0)
ambients = st.floats(-30.0, 60.0)
resistances = st.floats(-1.0, 1.0).map(lambda power: 10.0**power)


@st.composite
def lamps(draw):
    """Lumped lamps: one or two channels on one to three boards in a chain to a sink."""
    boards = draw(st.integers(1, 3))
    names = [f"board_{number}" for number in range(boards)]
    nodes = {name: {"capacitance_j_per_k": draw(st.sampled_from((0.0, 2.0)))} for name in names}
    nodes["sink"] = {"capacitance_j_per_k": 40.0, "limit_c": 70.0}
    links = [
        {"between": (one, other), "resistance_k_per_w": draw(resistances)}
        for one, other in zip(names, [*names[1:], "sink"], strict=True)
    ]
    links.append({"between": ("sink", "ambient"), "resistance_k_per_w": 5.0 * draw(resistances)})
    channels = {
        f"channel_{number}": CHANNEL
        | {
            "series": draw(st.integers(1, 3)),
            "current_a": draw(st.sampled_from((0.1, 0.7, 1.4))),
            "parallel": 2,
            "forward_voltage_offset_v": draw(st.sampled_from((0.0, (0.0, 0.03)))),
            "solder_point": draw(st.sampled_from(names)),
        }
        for number in range(draw(st.integers(1, 2)))
    }
    driver = {
        "efficiency": 0.9,
        "heat_node": draw(st.sampled_from((None, "sink"))),
        "dimming": draw(st.sampled_from(("pwm", "current"))),
    }
    sensors = {"ntc": SENSOR | {"at": names[-1]}}
    return lamp(channels, nodes=nodes, links=links, sensors=sensors, driver=driver)


def rest_of(any_lamp, duty=1.0, ambient_c=25.0, **how):
    """The rest with all channels at one duty and all ambients alike."""
    duties = np.full(len(any_lamp.channels), duty)
    return resting(any_lamp, **how).rest(duties, np.full(len(any_lamp.ambients), ambient_c))


def heated_by(factor, **emitter):
    """A lamp of one emitter whose board sheds into the ambient by ``factor`` [K/W] alone."""
    links = ({"between": ("board", "ambient"), "resistance_k_per_w": factor},)
    nodes = {"board": {"capacitance_j_per_k": 6.0}}
    return lamp(emitters={"white": WHITE | emitter}, nodes=nodes, links=links)


# -- against other computations --------------------------------------------------------------------


def shed_lamp():
    """The twelve nodes with a plate, a given surface and fins in wind on them."""
    surfaces = {
        "lid": PLATE | {"of": "housing", "to": "room"},
        "bracket": GIVEN | {"of": "board", "to": "ambient"},
        "fins": FINS | {"of": "sink", "to": "ambient", "airflow_m_per_s": 2.0},
    }
    return twelve_nodes(surfaces=surfaces)


@pytest.mark.parametrize("made", [twelve_nodes, shed_lamp])
@pytest.mark.parametrize(("duties", "airflow"), [((1.0, 1.0), 1.0), ((0.3, 0.8), 0.2)])
def test_where_the_timeline_comes_to(made, duties, airflow):
    """Nodes, light and power are those of the plant after a long time, ambients apart."""
    any_lamp, ambient_c = made(), np.array([31.0, -4.0])
    plant = Plant(any_lamp)
    plant.configure(airflow, {"paste": 3.0})
    for _ in range(20):
        drive(plant, LONG_S / 20, duties, ambient_c=ambient_c, sensor_heat_w=[1e-3, 2e-3])
    ready = resting(any_lamp, airflow=airflow, degraded={"paste": 3.0})
    rest = ready.rest(np.array(duties), ambient_c, sensor_heat_w=np.array([1e-3, 2e-3]))
    np.testing.assert_allclose(rest.node_c, plant.node_c, rtol=0, atol=RESTED_K)
    np.testing.assert_allclose(rest.light_lm, plant.light_lm, rtol=ROUNDING)
    np.testing.assert_allclose(rest.supply_w, plant.electrical_w, rtol=ROUNDING)


def test_crests_are_the_plants():
    """With a slow PWM the peaks of junctions are those that the plant notes once it repeats."""
    any_lamp = lamp(driver={"frequency_hz": 20.0})
    plant, rest = Plant(any_lamp), rest_of(any_lamp, 0.4)
    plant.reset(np.array([25.0]), start_nodes_c=rest.node_c)
    drive(plant, LONG_S, [0.4])
    junction = plant.junctions["main"]
    crest_k = rest.peak_c[junction] - rest.node_c[junction]
    assert crest_k > 0.1
    np.testing.assert_allclose(rest.peak_c[junction], plant.tally.peak_c[junction], atol=RESTED_K)
    assert rest_of(lamp(driver={"frequency_hz": 20.0}), 1.0).peak_c[junction] == pytest.approx(
        rest_of(any_lamp, 1.0).node_c[junction]
    )


@pytest.mark.parametrize("duty", [1.0, 0.35])
def test_a_root_of_the_plain_equations(duty):
    """A second computation, every emitter a node of its own, finds the same nodes by a root search.

    It shares nothing with the plant but the lamp file, and scipy searches for its root.
    """
    emitters = {"white": WHITE, "red": WHITE | {"forward_voltage_slope_v_per_k": -3e-3}}
    offsets = {"parallel": 2, "forward_voltage_offset_v": (0.0, 0.04), "current_a": 1.4}
    channels = {"wide": CHANNEL | {"series": 3} | offsets, "spot": CHANNEL | {"emitter": "red"}}
    any_lamp = lamp(channels, emitters=emitters, driver={"efficiency": 0.9, "heat_node": "sink"})
    circuit = Circuit(any_lamp)
    conductance, to_ambient = circuit.conductances(1.0)

    def residual_w(node_c):
        return (
            circuit.heat(node_c, [duty, 1.0]) + 25.0 * to_ambient["ambient"] - conductance @ node_c
        )

    found = root(residual_w, np.full(len(conductance), 50.0), tol=1e-12)
    rest = resting(any_lamp).rest(np.array([duty, 1.0]), np.array([25.0]))
    for name in any_lamp.nodes:
        place = list(any_lamp.nodes).index(name)
        assert rest.node_c[place] == pytest.approx(found.x[circuit.index[name]], abs=ROOT_K)
    hottest = max(found.x[j] for branch in circuit.branches["wide"] for j in branch[2])
    junctions = resting(any_lamp).junctions["wide"]
    assert rest.node_c[junctions].max() == pytest.approx(hottest, abs=ROOT_K)


# -- one node in closed form -----------------------------------------------------------------------

STEEP = {
    "forward_voltage_slope_v_per_k": 5e-3,
    "junction_c": (20.0, 30.0),
    "radiant_ratio": (1.0, 1.0),
    "luminous_ratio": (1.0, 1.0),
    "radiant_flux_w": (0.06, 0.118, 0.39, 2.05, 2.1, 2.2),
}
"""Heat that grows with temperature along a straight line: 0.7 A times 5 mV/K."""
CURRENT_A, SLOPE = 0.7, 0.7 * 5e-3
HEAT_25_W = 0.7 * 2.99 - 2.05


def straight_c(resistance, ambient_c):
    """T = (a + R (q25 - s 25)) / (1 - R s): the rest under heat q25 + s (T - 25)."""
    return (ambient_c + resistance * (HEAT_25_W - 25.0 * SLOPE)) / (1.0 - resistance * SLOPE)


@pytest.mark.parametrize("gain", [0.1, 0.6, 0.9, 0.99])
def test_straight_heat_in_closed_form(gain):
    """Junction temperature and loop gain are those of the formula up to a gain of 0.99."""
    outside = gain / SLOPE - 4.0  # the junction's own 4 K/W come on top
    ready = resting(heated_by(outside, **STEEP))
    rest = ready.rest(np.ones(1), np.array([20.0]))
    expected_c = straight_c(gain / SLOPE, 20.0)
    assert rest.node_c[ready.junctions["main"]] == pytest.approx([expected_c], abs=1e-6)
    assert ready.loop_gain(rest.slopes_w_per_k) == pytest.approx(gain, rel=1e-6)


def test_runaway_at_a_gain_of_one():
    """Just below a gain of 1 there is a rest, just above there is none, whatever the ambient."""
    for ambient_c in (14.0, 20.0):
        assert not rest_of(heated_by(0.98 / SLOPE - 4.0, **STEEP), 1.0, ambient_c).runaway
        lost = rest_of(heated_by(1.02 / SLOPE - 4.0, **STEEP), 1.0, ambient_c)
        assert lost.runaway
        assert not lost.too_hot


def test_runaway_where_the_formula_passes_the_bound():
    """The resistance from which on nothing below 1000 degC stays is that of the formula."""
    low, high = 100.0, 1.0 / SLOPE - 1e-9
    exact = brentq(lambda r: straight_c(r, 20.0) - RUNAWAY_C, low, high, xtol=1e-12)
    assert not rest_of(heated_by(exact * (1 - 1e-6) - 4.0, **STEEP), 1.0, 20.0).runaway
    beyond = rest_of(heated_by(exact * (1 + 1e-6) - 4.0, **STEEP), 1.0, 20.0)
    assert beyond.runaway
    assert beyond.too_hot


def test_runaway_is_told_without_numbers():
    """A lamp that runs away has nan for all that it would settle to, and no exception."""
    rest = rest_of(heated_by(400.0, **STEEP))
    assert rest.runaway
    assert np.isnan(rest.node_c).all()
    assert np.isnan(rest.light_lm).all()


FALLING = {
    "junction_c": (-40.0, 60.0, 75.0, 150.0),
    "radiant_ratio": (1.0, 1.0, 0.1, 0.1),
    "luminous_ratio": (1.0, 1.0, 0.1, 0.1),
    "radiant_flux_w": (0.06, 0.118, 0.39, 1.6, 1.7, 1.8),
    "forward_voltage_slope_v_per_k": 0.0,
}
"""An emitter that loses nearly all its light between 60 and 75 degC: two rests are possible."""


def test_of_two_rests_the_cooler():
    """Where a lamp could stay cool or hot it is the cool rest, as for one that warms up from cold.

    In a warmer ambient only the hot one is left, and there it is found.
    """
    any_lamp = heated_by(40.0, **FALLING)
    cool_w, hot_w = 0.7 * 2.99 - 1.6, 0.7 * 2.99 - 0.16
    junction = resting(any_lamp).junctions["main"]
    for ambient_c, heat_w in ((20.0, cool_w), (45.0, hot_w)):
        rest = rest_of(any_lamp, 1.0, ambient_c)
        assert rest.node_c[junction] == pytest.approx([ambient_c + 44.0 * heat_w], abs=1e-6)
        plant = Plant(any_lamp)
        plant.reset(np.array([ambient_c]), ambient_c)
        drive(plant, LONG_S, [1.0], ambient_c=[ambient_c])
        np.testing.assert_allclose(rest.node_c, plant.node_c, rtol=0, atol=RESTED_K)
    assert 20.0 + 44.0 * hot_w > 75.0  # at 20 degC the hot rest was there as well


# -- any lamp --------------------------------------------------------------------------------------


@given(any_lamp=lamps(), duty=duties_of, ambient_c=ambients)
@settings(max_examples=40)
def test_what_is_put_in_comes_out(any_lamp, duty, ambient_c):
    """Power drawn = light + heat into ambients + loss that heats no node, to rounding."""
    rest = rest_of(any_lamp, duty, ambient_c)
    assume(not rest.runaway)
    groups = len(resting(any_lamp).assembly.groups)
    radiant_w = rest.electrical_w.sum() - rest.heat_w[:groups].sum()
    gone_w = 0.0 if any_lamp.driver.heat_node else (rest.supply_w - rest.electrical_w).sum()
    left_w = radiant_w + rest.ambient_w.sum() + gone_w
    assert rest.supply_w.sum() == pytest.approx(left_w, rel=ROUNDING, abs=1e-9)


@given(any_lamp=lamps(), duty=duties_of, ambient_c=ambients, warmer_k=st.floats(0.1, 20.0))
@settings(max_examples=40)
def test_warmer_air_makes_every_node_warmer(any_lamp, duty, ambient_c, warmer_k):
    """A warmer ambient warms every node, and what ran away in the cooler one still does."""
    cool, warm = (rest_of(any_lamp, duty, at_c) for at_c in (ambient_c, ambient_c + warmer_k))
    if cool.runaway:
        assert warm.runaway
    elif not warm.runaway:
        assert (warm.node_c > cool.node_c).all()


@given(any_lamp=lamps(), duty=st.floats(0.05, 0.9), ambient_c=ambients)
@settings(max_examples=40)
def test_more_drive_makes_every_node_warmer(any_lamp, duty, ambient_c):
    """These emitters' heat rises with their duty, and so does every temperature."""
    less, more = (rest_of(any_lamp, share, ambient_c) for share in (duty, duty + 0.1))
    assume(not more.runaway)
    assert (more.node_c >= less.node_c - ROOT_K).all()


@given(any_lamp=lamps(), duty=duties_of, ambient_c=ambients)
@settings(max_examples=40)
def test_it_is_a_rest(any_lamp, duty, ambient_c):
    """The plant, set to the temperatures found, stays there."""
    rest = rest_of(any_lamp, duty, ambient_c)
    assume(not rest.runaway)
    plant = Plant(any_lamp)
    plant.reset(np.array([ambient_c]), start_nodes_c=rest.node_c)
    after_c = drive(plant, 50.0, [duty] * len(any_lamp.channels), ambient_c=[ambient_c])
    np.testing.assert_allclose(after_c, rest.node_c, rtol=0, atol=RESTED_K)


def test_slopes_are_those_of_the_heat():
    """Slopes at rest foresee the heat in slightly warmer air, losses and surfaces included."""
    any_lamp = lamp(
        {"main": CHANNEL | {"parallel": 2, "forward_voltage_offset_v": (0.0, 0.03)}},
        driver={"efficiency": 0.8, "heat_node": "sink"},
        surfaces={"fins": FINS | {"of": "sink"}},
        links=LINKS[:1],
    )
    ready = resting(any_lamp)
    cool, warm = (ready.rest(np.ones(1), np.array([at_c])) for at_c in (25.0, 25.02))
    moved_k = ready.network.inject.T @ (warm.node_c - cool.node_c)
    mean = 0.5 * (cool.slopes_w_per_k + warm.slopes_w_per_k)
    shed_w = ready.assembly.exchange.reference_w_per_k[0] * 0.02
    foreseen_w = mean @ moved_k
    change_w = warm.heat_w - cool.heat_w
    np.testing.assert_allclose(foreseen_w[:-1], change_w[:-1], rtol=1e-4)
    # the surface's heat input also depends on the ambient itself, which its slope leaves out
    assert abs(foreseen_w[-1] - change_w[-1]) < 1.5 * shed_w


def test_driven_harder():
    """Full currents times a factor are a lamp with these currents in its file."""
    harder = lamp({"main": CHANNEL | {"current_a": 0.7 * 1.5}})
    there = rest_of(harder)
    here = resting(lamp()).driven(1.5).rest(np.ones(1), np.array([25.0]))
    np.testing.assert_allclose(here.node_c, there.node_c, rtol=ROUNDING)
    assert NODES.keys() <= set(harder.nodes)


def test_one_compiled_form():
    """Lamps with and without surfaces are of the same types to numba: nothing compiles twice."""
    plain, shedding = (typeof(resting(made()).standing) for made in (twelve_nodes, shed_lamp))
    assert plain == shedding


def test_a_rest_beyond_a_kink():
    """Where light ends the heat bends; the search comes to a rest just beyond that.

    Below it warming nearly feeds itself, above it heat falls: Newton's method alone would leap
    from one side to the other and back. Without light T = (a + R I (V - 25 s)) / (1 - R I s).
    """
    resistance, slope, ambient_c = 98.037, -1.825e-3, 55.3
    ending = {
        "junction_c": (-40.0, 25.0, 40.0, 75.0, 140.0, 180.0),
        "radiant_ratio": (1.0, 1.0, 0.9, 0.6245, 0.5517, 0.32),
        "luminous_ratio": (1.0, 1.0, 0.9, 0.6245, 0.5517, 0.32),
        "radiant_flux_w": (0.06, 0.118, 0.39, 1.4954, 1.7, 1.8),
        "forward_voltage_slope_v_per_k": slope,
    }
    ready = resting(heated_by(resistance - 4.0, **ending))
    rest = ready.rest(np.ones(1), np.array([ambient_c]))
    rising = resistance * CURRENT_A * (2.99 - 25.0 * slope)
    expected_c = (ambient_c + rising) / (1.0 - resistance * CURRENT_A * slope)
    assert rest.node_c[ready.junctions["main"]] == pytest.approx([expected_c], abs=1e-6)


def test_a_board_made_for_the_rest_alone():
    """Junctions, solder points and sensors rest where they do on the board made for transients."""
    drawn = demo(DRAWN)
    whole, quick = resting(drawn), resting(drawn, at_rest=True)
    assert quick.network.names != whole.network.names
    duties, ambient_c = np.array([1.0, 0.3, 0.0]), np.array([31.0])
    found = [ready.rest(duties, ambient_c) for ready in (whole, quick)]
    for name in quick.network.names:
        if not name.startswith("board."):
            one, other = (
                rest.node_c[ready.network.names.index(name)]
                for ready, rest in zip((whole, quick), found, strict=True)
            )
            assert one == pytest.approx(other, abs=FACES_K), name
