"""Lamps so simple that the worst any history can do is a formula."""

import numpy as np
import pytest

from derate.lamp import Lamp
from derate.limits.worst.bound import BETWEEN_K, bound_of
from derate.limits.worst.law import law_of
from derate.limits.worst.span import Span
from derate.limits.worst.study import made_ready
from tests.loop.lamps import SPOT, spot

AGREE_K = 0.03
"""Of a bound: prices are straight over slots, and a limit is rounded to Q15."""
AMBIENT_C, AIR_K_PER_W, SENSOR_K_PER_W, CHIP_K_PER_W = 30.0, 10.0, 1e-3, 1.0
START_C, END_C, FLOOR = 45.0, 70.0, 0.1
SECOND_S = 1.0
BOARD_J_PER_K = 200.0
WHITE = SPOT["emitters"]["white"]
FULL_A = 0.5
FULL_W = 3.0 * (2.9 * FULL_A - 0.6)
"""V I - flux of three emitters, by the curves of the lamp file."""


def lamp(*, chip_k_per_w=CHIP_K_PER_W, policy=None, sink=False, **tables):
    """One node in air with a fast chip on it and a thermistor in it; heat knows no temperature."""
    policy = policy or {"kind": "foldback", "start": START_C, "end": END_C, "floor": FLOOR}
    air = {"between": ["board", "ambient"], "resistance": AIR_K_PER_W}
    raw = spot(
        nodes={},
        links=[air],
        controller={"policy": policy, "cutoff": 100.0, "attack": 1e3},
        timing={"control_period": SECOND_S},
        **tables,
    )
    raw["nodes"] = {"board": {"capacitance": BOARD_J_PER_K}}
    if sink:
        raw["nodes"]["sink"] = {"capacitance": 4.0 * BOARD_J_PER_K}
        raw["links"] = [
            {"between": ["board", "sink"], "resistance": AIR_K_PER_W / 2.0},
            {"between": ["sink", "ambient"], "resistance": AIR_K_PER_W / 2.0},
        ]
    raw["emitters"]["white"] |= {
        "forward_voltage_slope": 0.0,
        "radiant_ratio": [1.0, 1.0, 1.0],
        "junction_to_solder_resistance": 3.0 * chip_k_per_w,
        "junction_capacitance": 1e-5,
    }
    raw["channels"]["spot"]["current"] = FULL_A
    raw["sensors"]["ntc"] |= {"resistance": SENSOR_K_PER_W, "capacitance": 0.0}
    return Lamp.model_validate(raw)


def ready(made):
    """The lamp made ready in one ambient."""
    return made_ready(made, made, Span((AMBIENT_C, AMBIENT_C), (1.0, 1.0)), law_of(made))


def at_c(found, place):
    """The bound of a place [degC], without what is added for instants in between."""
    return bound_of(found, found.linear.places[place]).at_c - BETWEEN_K


def body_c(found, reading_c):
    """The warmest body that reads so, by the line of the least reading [degC]."""
    (least,) = found.least
    return (reading_c - least.offset_c) / least.gain


def limit(found, board_c):
    """What foldback gives at most at a temperature of the board [-]."""
    (least,) = found.least
    reading_c = least.gain * board_c + least.offset_c
    return np.clip(1.0 - (1.0 - FLOOR) * (reading_c - START_C) / (END_C - START_C), FLOOR, 1.0)


def rest_c(found):
    """Where the board's heat is just what foldback lets it have [degC], by halving."""
    low_c, high_c = AMBIENT_C, 150.0
    for _ in range(60):
        middle_c = 0.5 * (low_c + high_c)
        heated_c = AMBIENT_C + AIR_K_PER_W * FULL_W * limit(found, middle_c)
        low_c, high_c = (middle_c, high_c) if heated_c > middle_c else (low_c, middle_c)
    return low_c


def test_one_node_rests_where_foldback_meets_heat():
    """No history makes the one node hotter than where it rests under full light for ever.

    While it is below that point, so it is a period later: the map from tick to tick rises there.
    """
    found = ready(lamp())
    desired_c = rest_c(found)
    assert START_C < desired_c < AMBIENT_C + AIR_K_PER_W * FULL_W - 1.0
    assert at_c(found, "board") == pytest.approx(desired_c, abs=AGREE_K)


@pytest.mark.parametrize("gentle", [True, False])
def test_a_chip_on_one_node(gentle):
    """A chip without delay is R q L above its board: worst at rest, or where foldback begins.

    The latter where R q falls faster with the board's temperature than that rises, R q L' < -1:
    dark until the board reads the start, then full light for a period.
    """
    chip_k_per_w = CHIP_K_PER_W if gentle else 20.0
    found = ready(lamp(chip_k_per_w=chip_k_per_w))
    slope_per_k = (1.0 - FLOOR) / (END_C - START_C)
    assert (chip_k_per_w * FULL_W * slope_per_k < 1.0) == gentle
    board_c = rest_c(found)
    share = limit(found, board_c)
    if not gentle:
        end_c = AMBIENT_C + AIR_K_PER_W * FULL_W
        left = np.exp(-SECOND_S / (AIR_K_PER_W * BOARD_J_PER_K))
        board_c = end_c + (body_c(found, START_C) - end_c) * left
        share = 1.0
    desired_c = board_c + chip_k_per_w * FULL_W * share
    assert at_c(found, "junction.spot.0") == pytest.approx(desired_c, abs=AGREE_K)


def test_a_floor_that_is_too_high_for_the_lamp():
    """Where the floor alone is hotter than the end of foldback, the floor for ever is the worst."""
    floor = 0.9
    policy = {"kind": "foldback", "start": 40.0, "end": 45.0, "floor": floor}
    found = ready(lamp(policy=policy))
    desired_c = AMBIENT_C + AIR_K_PER_W * FULL_W * floor
    assert desired_c > body_c(found, 45.0)
    assert at_c(found, "board") == pytest.approx(desired_c, abs=AGREE_K)


@pytest.mark.parametrize("place", ["board", "sink", "junction.spot.0"])
def test_two_nodes_in_open_loop(place):
    """Without a policy nothing is worse than full light for ever: the sum of R q on the way out."""
    found = ready(lamp(policy={"kind": "none"}, sink=True))
    sink_c = AMBIENT_C + 0.5 * AIR_K_PER_W * FULL_W
    board_c = sink_c + 0.5 * AIR_K_PER_W * FULL_W
    desired_c = {"sink": sink_c, "board": board_c}.get(place, board_c + CHIP_K_PER_W * FULL_W)
    assert at_c(found, place) == pytest.approx(desired_c, abs=AGREE_K)
