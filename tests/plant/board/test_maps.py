"""Maps of the board: its temperatures, and what a thermistor would miss where."""

import numpy as np
import pytest

from derate.plant.board.lumped import lumped_board
from derate.plant.board.maps import EDGE_M, board_map, sensor_map
from derate.plant.rest import resting
from tests.plant.board.in_time import steps_of
from tests.plant.board.test_lumped_lamp import AT, board_lamp

AMBIENT_C = np.array([25.0])
SAME = 0.02
"""Of the largest: what cells, reduction and the sensor's square make of a single position."""
SLOW, SLOW_ERROR = 4.0, 2e-3
"""A step answer is integrated up to so many slowest times; the rest and the integration [s]."""


@pytest.fixture(scope="module")
def lit():
    """A lamp of two channels at rest with both lit: made ready, rest, its maps."""
    described = board_lamp(at=(AT[0],), second=(AT[1],))
    ready = resting(described)
    rest = ready.rest(np.array([1.0, 0.4]), AMBIENT_C)
    return described, ready, rest, sensor_map(ready, rest)


def at(found, values, x_m, y_m):
    """The value of a map in the cell nearest to a position."""
    row, column = np.argmin(np.abs(found.y_m - y_m)), np.argmin(np.abs(found.x_m - x_m))
    return values[row, column]


def node_c(ready, rest):
    """Temperatures by name."""
    return dict(zip(ready.network.names, rest.node_c, strict=True))


def test_a_board_of_one_temperature():
    """Nodes of one temperature are a map of one temperature, nan in holes and beside the board."""
    described = board_lamp(
        at=((0.0, 0.0),), size_m=None, diameter_m=0.03, sensor_at=(9e-3, 2e-3),
        holes=({"at": (0.0, 10e-3), "diameter_m": 4e-3},),
    )  # fmt: skip
    names = lumped_board(described).names
    found = board_map(described, dict.fromkeys(names, 40.0))
    x_m, y_m = np.meshgrid(found.x_m, found.y_m)
    there = ~np.isnan(found.temperature_c)
    assert found.temperature_c[there] == pytest.approx(40.0, abs=1e-6)
    deep = np.hypot(x_m, y_m) < 0.014
    hole = np.hypot(x_m, y_m - 10e-3)
    assert there[deep & (hole > 3e-3)].all()
    assert not there[hole < 1e-3].any()
    assert not there[np.hypot(x_m, y_m) > 0.016].any()


def test_the_map_shows_the_nodes(lit):
    """At footprints and places the map has the temperatures of their nodes; hottest on a pad."""
    described, ready, rest, _ = lit
    found, known = board_map(described, node_c(ready, rest)), node_c(ready, rest)
    span_k = np.nanmax(found.temperature_c) - np.nanmin(found.temperature_c)
    assert at(found, found.temperature_c, 14e-3, 16e-3) == pytest.approx(
        known["place.ntc"], abs=SAME * span_k
    )
    hottest = np.unravel_index(np.nanargmax(found.temperature_c), found.temperature_c.shape)
    assert found.x_m[hottest[1]] == pytest.approx(AT[0][0], abs=1e-3)
    assert found.y_m[hottest[0]] == pytest.approx(AT[0][1], abs=1e-3)
    assert known["solder.main.1"] <= np.nanmax(found.temperature_c)


def test_offset_is_the_difference_of_temperatures(lit):
    """At the place of the lamp's own sensor the map has junction less place."""
    _, ready, rest, found = lit
    known = node_c(ready, rest)
    expected = known["junction.main.0"] - known["place.ntc"]
    assert at(found, found.offset_k, 14e-3, 16e-3) == pytest.approx(expected, rel=SAME)


def test_channels_alone_add_up(lit):
    """Rises of both channels together are the sums of each alone: offsets of the hottest do."""
    _, ready, rest, found = lit
    assert set(found.channel_offset_k) == {"main", "other"}
    known = node_c(ready, rest)
    cross_k = known["junction.main.0"] - at(found, found.offset_k, 14e-3, 16e-3)
    assert (
        at(found, found.channel_offset_k["main"], 14e-3, 16e-3)
        < at(found, found.offset_k, 14e-3, 16e-3) + 0.1 * cross_k
    )
    dark = sensor_map(ready, ready.rest(np.array([1.0, 0.0]), AMBIENT_C))
    assert list(dark.channel_offset_k) == ["main"]
    one, alone = dark.offset_k, dark.channel_offset_k["main"]
    assert one[~np.isnan(one)] == pytest.approx(alone[~np.isnan(one)], rel=SAME)
    both = dark.lag_s, dark.channel_lag_s["main"]
    assert both[0][~np.isnan(one)] == pytest.approx(both[1][~np.isnan(one)], rel=1e-9)


def test_lag_is_the_mean_delay_of_a_step(lit):
    """Integrated in full, the place's mean delay behind the solder node is that of the map."""
    described, ready, _, found = lit
    board = lumped_board(described)
    held = len(described.nodes)
    matrix = ready.network.conductance_w_per_k[held:, held:]
    slowest_s = (
        1
        / np.linalg.eigvals(
            np.linalg.solve(board.capacitance_j_per_k, _conductance(board))
        ).real.min()
    )
    times_s = np.concatenate(([0.0], np.geomspace(1e-5, SLOW * slowest_s, 1500)))
    steps = steps_of(board.full, board.exchange_w_per_m2_k, "solder.main.1", times_s)
    delay_s = {
        name: np.trapezoid(1 - steps[name] / steps[name][-1], times_s)
        for name in ("solder.main.1", "place.ntc")
    }
    junction = ready.network.names.index("junction.main.0") - held
    heat = np.zeros(len(matrix))
    heat[junction] = 1.0
    rise = np.linalg.solve(matrix, heat)
    moment = np.linalg.solve(matrix, ready.network.capacitance_j_per_k[held:, held:] @ rise)
    solder = ready.network.names.index("solder.main.1") - held
    ahead_s = moment[solder] / rise[solder] - moment[junction] / rise[junction]
    expected = delay_s["place.ntc"] - delay_s["solder.main.1"] + ahead_s
    found_s = at(found, found.channel_lag_s["main"], 14e-3, 16e-3)
    assert found_s == pytest.approx(expected, rel=0.03, abs=SLOW_ERROR)


def _conductance(board):
    return sum(board.conduction_w_per_k.values()) + sum(
        each * board.faces[name].matrix_m2 for name, each in board.exchange_w_per_m2_k.items()
    )


def test_where_no_thermistor_can_sit(lit):
    """Pads and the rim of the board are left blank, all else is not."""
    found = lit[3]
    x_m, y_m = np.meshgrid(found.x_m, found.y_m)
    blank = np.isnan(found.offset_k)
    rim = np.minimum(np.minimum(x_m, 0.03 - x_m), np.minimum(y_m, 0.02 - y_m))
    assert blank[rim < EDGE_M].all()
    in_pad = np.zeros_like(blank)
    near = np.zeros_like(blank)
    for pad_x_m, pad_y_m in AT:
        away = np.maximum(np.abs(x_m - pad_x_m) - 3e-3, np.abs(y_m - pad_y_m) - 2.5e-3)
        in_pad |= away < 0.0
        near |= away < 1e-3
    assert blank[in_pad].all()
    assert not blank[(rim > 2 * EDGE_M) & ~near].any()
    assert (np.isnan(found.lag_s) == blank).all()


def test_the_advice(lit):
    """The advised place is on the map, with its values, and no place has a smaller worst offset."""
    found = lit[3]
    offset_k = at(found, found.offset_k, *found.advised_m)
    assert found.advised_offset_k == offset_k
    assert found.advised_lag_s == at(found, found.lag_s, *found.advised_m)
    worst_k = np.max([found.offset_k, *found.channel_offset_k.values()], axis=0)
    assert at(found, worst_k, *found.advised_m) == np.nanmin(worst_k)


def test_farther_from_the_light_is_later_and_lower(lit):
    """With one channel lit, both offset and lag grow away from its emitter."""
    _, ready, _, _ = lit
    found = sensor_map(ready, ready.rest(np.array([1.0, 0.0]), AMBIENT_C))
    away = [(12.0e-3, 7e-3), (15e-3, 13e-3), (24.5e-3, 13e-3), (27e-3, 17e-3)]
    for values in (found.offset_k, found.lag_s):
        seen = [at(found, values, *spot) for spot in away]
        assert seen == sorted(seen)


def test_nothing_lit():
    """In the dark there is no hottest junction to watch."""
    ready = resting(board_lamp())
    assert sensor_map(ready, ready.rest(np.array([0.0]), AMBIENT_C)) is None


def test_no_room():
    """A board that is all pad and rim has no place for a thermistor."""
    crowded = board_lamp(
        at=((4e-3, 4e-3),), size_m=(0.008, 0.008), sensor_at=(4e-3, 4e-3), cell_m=5e-4
    )
    ready = resting(crowded)
    assert sensor_map(ready, ready.rest(np.array([1.0]), AMBIENT_C)) is None
