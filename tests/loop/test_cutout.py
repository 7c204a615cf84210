"""The independent cut-out on the timeline: when it opens and closes, and what it cuts off."""

import itertools
import math

import numpy as np
import pytest

from derate.lamp import Lamp
from derate.loop.batch import Batch, Specimen
from derate.loop.cutout import Switching, open_rows, trip_margins_k
from derate.loop.run import run
from derate.plant.plant import Plant
from tests.loop.lamps import spot

TRIP_C, RESET_C = 32.0, 30.0
PERIOD_S = 0.1
OVERSHOOT_K = 0.01
"""Heat on its way from the junctions still arrives when the switch has opened."""
EXACT = 1e-9
"""A mean duty is a difference of running sums."""
LAG_S = 8.0
LAG_K = 2e-3
"""The element's capacity is a millionth of the board's; the reference steps by 0.1 s."""
FULL = {"kind": "none"}


def lamp_with(changes=None, **cutout):
    """The test spot at full for ever, with a cut-out on its board."""
    whole = {"at": "board", "kind": "one-shot", "trip": TRIP_C} | cutout
    raw = spot(cutouts={"switch": whole}, controller={"policy": FULL})
    return Lamp.model_validate(raw).with_changes(changes or {})


@pytest.fixture(scope="module")
def opened():
    """A run in which a one-shot cut-out opens."""
    return run(lamp_with(), "on")


def free_board_c(at_s):
    """Board of the same lamp without cut-out, driven at full in one go [degC]."""
    plant = Plant(lamp_with({"cutouts": None}))
    plant.reset(np.array([25.0]))
    plant.advance(at_s, np.ones(1), np.ones(1), np.array([25.0]), np.zeros(1))
    return float(plant.node_c[plant.node_index("board")])


def test_it_opens_at_the_instant_of_the_trip(opened):
    """The board is at the trip temperature when it opens, though no task runs at that instant."""
    at_s = opened.merit.cutouts["switch"].first_s
    assert free_board_c(at_s) == pytest.approx(TRIP_C, abs=1e-3)
    assert opened.merit.cutouts["switch"].peak_c >= TRIP_C
    assert abs(at_s / PERIOD_S - round(at_s / PERIOD_S)) > 1e-3


def test_what_it_opens_stays_dark(opened):
    """From the trip on nothing is driven, while the controller goes on asking for full light."""
    trace, at_s = opened.trace, opened.merit.cutouts["switch"].first_s
    after = trace["time_s"] > at_s
    assert trace["duty_spot"][after].max() == 0.0
    assert trace["limit"][after].min() == 1.0
    assert trace["duty_spot"][trace["time_s"] < at_s - PERIOD_S].min() == 1.0


def test_it_is_told(opened):
    """Event, trace and figures of merit tell of it."""
    at_s = opened.merit.cutouts["switch"].first_s
    (told,) = [one for one in opened.happenings if one.kind == "cutout"]
    assert (told.at_s, told.what) == (at_s, "cut-out switch opens")
    assert np.flatnonzero(opened.trace["cutout_switch"])[0] == math.ceil(at_s / PERIOD_S)
    assert opened.merit.cutouts["switch"].open_s == pytest.approx(120.0 - at_s, abs=1e-9)


def test_one_that_resets_closes_and_opens_again():
    """It goes to and fro between its two temperatures, and the element's peak is the trip."""
    result = run(lamp_with(kind="resetting", reset=RESET_C), "on")
    assert result.merit.cutouts["switch"].times >= 2
    assert result.merit.cutouts["switch"].peak_c == pytest.approx(TRIP_C, abs=OVERSHOOT_K)
    column = result.trace["cutout_switch"]
    board_c = result.trace["node_board_c"]
    assert board_c[column == 1.0].min() == pytest.approx(RESET_C, abs=0.5)


def test_a_slow_element_lags_behind_its_place():
    """With a lag it follows its node as a first-order lag does."""
    lamp = lamp_with(lag=LAG_S)
    result = run(lamp, "on")
    at_s = result.merit.cutouts["switch"].first_s
    time_s = np.arange(0.0, at_s, PERIOD_S / 4)
    board_c = np.interp(time_s, result.trace["time_s"], result.trace["node_board_c"])
    element_c = 25.0
    keep = math.exp(-PERIOD_S / 4 / LAG_S)
    for before_c, after_c in itertools.pairwise(board_c):
        element_c = keep * element_c + (1.0 - keep) * (before_c + after_c) / 2
    left_s = at_s - time_s[-1]
    element_c += (board_c[-1] - element_c) * left_s / LAG_S
    assert element_c == pytest.approx(TRIP_C, abs=5 * LAG_K)


def test_a_stuck_channel_is_cut_off_too():
    """What the driver does no longer matters behind an open switch."""
    lamp = lamp_with()
    profile = lamp.profiles["on"].model_copy(
        update={
            "events": type(lamp.profiles["on"])
            .model_validate(
                {
                    "duration": 120.0,
                    "ambient": 25.0,
                    "events": [{"kind": "channel stuck on", "at": 0.0, "channel": "spot"}],
                }
            )
            .events,
            "request": {},
        }
    )
    result = run(lamp, profile)
    assert result.merit.cutouts["switch"].times == 1
    assert result.trace["duty_spot"][-1] == 0.0


def test_a_lamp_without_trip_runs_as_if_it_had_none():
    """A cut-out that stays closed changes no number."""
    closed = run(lamp_with(trip=200.0), "on")
    without = run(lamp_with({"cutouts": None}), "on")
    for name in without.trace.names:
        assert np.array_equal(closed.trace[name], without.trace[name])
    assert closed.merit.cutouts["switch"].first_s is None


def test_only_the_named_channels_are_opened():
    """Another channel goes on, and its command takes effect when its task says so."""
    raw = spot(controller={"policy": FULL})
    raw["channels"]["other"] = raw["channels"]["spot"] | {"current": 0.2}
    raw["cutouts"] = {
        "switch": {"at": "board", "kind": "one-shot", "trip": TRIP_C, "opens": ["spot"]}
    }
    raw["profiles"]["on"]["request"] = {"spot": 1.0, "other": 1.0}
    result = run(Lamp.model_validate(raw), "on")
    assert result.trace["duty_spot"][-1] == 0.0
    assert result.trace["duty_other"][-1] == pytest.approx(1.0, abs=EXACT)


def test_open_rows_follow_the_turns():
    """A row at the instant of a turn shows what holds from there on."""
    turned = (Switching("a", 1.0, True), Switching("b", 1.5, True), Switching("a", 2.0, False))
    assert open_rows(turned, "a", np.array([0.0, 1.0, 1.9, 2.0, 3.0])).tolist() == [0, 1, 1, 0, 0]
    assert open_rows(turned, "b", np.array([1.0, 2.0])).tolist() == [0, 1]


def test_a_loose_thermistor_hardly_follows_its_place():
    """With ten thousand times the resistance to the board the reading stays where it was."""
    lamp = lamp_with({"cutouts": None})
    event = {"kind": "sensor loose", "at": 20.0, "sensor": "ntc", "factor": 10000.0}
    profile = type(lamp.profiles["on"]).model_validate(
        {"duration": 60.0, "ambient": 25.0, "request": {"spot": 1.0}, "events": [event]}
    )
    trace = run(lamp, profile).trace
    loose = trace["time_s"] >= 20.0
    risen_k = np.ptp(trace["thermistor_ntc_c"][loose])
    assert risen_k < 0.2 * np.ptp(trace["node_board_c"][loose])
    assert trace["thermistor_ntc_c"][~loose].max() > 30.0


def test_a_batch_tells_who_would_have_tripped():
    """Up to the first trip a unit runs there as on the timeline, lag of the element and all."""
    lamp = lamp_with({"controller.body": "c"}, trip=TRIP_C + 1.0, tolerance=1.0, lag=LAG_S)
    profile = lamp.profiles["on"].model_copy(update={"duration_s": 20.0})
    batch = Batch(lamp, profile)
    peak_c = batch.run([Specimen(0, lamp)]).peak_c
    (margin_k,) = trip_margins_k(lamp, batch.ready.plant, peak_c)
    assert margin_k == pytest.approx(run(lamp, profile).merit.cutouts["switch"].margin_k, abs=EXACT)
    assert 0.0 < margin_k < TRIP_C - 25.0


def test_without_cut_outs_nothing_is_tripped():
    """The margin to a trip that is not there has no end."""
    lamp = lamp_with({"cutouts": None})
    assert trip_margins_k(lamp, Plant(lamp), np.zeros((2, 5))).tolist() == [np.inf, np.inf]
