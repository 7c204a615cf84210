"""Units drawn within tolerances: who is drawn does not matter, and the firmware does not know."""

import hashlib
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from derate.errors import InputError
from derate.firmware.header import settings_code
from derate.lamp import Lamp, load
from derate.lamp.quantity_at import quantities_at
from derate.lamp.tolerance import Tolerance
from derate.loop.batch import run_batch
from derate.loop.run import run
from derate.loop.units import OF_PARTS, draw, unit_lamp, unit_profile
from derate.sensing.chain import chains_of
from derate.sensing.noise import gaussian
from tests.loop.lamps import spot

SIMS = Path(__file__).parents[2] / "sims"
DEMOS = ("cycle_front_lamp", "workshop_light")
UNITS = 4000
EXACT_K = 1e-9
"""Two ways through the same arithmetic differ by rounding only."""
LEAST_P = 1e-3
"""Chance of a sound draw to be refused; the draws are the same in every run."""
FOUR_SIGMA = 4.0 / math.sqrt(UNITS)
"""Of a correlation of UNITS pairs."""

TABLES = {
    "chip": {"of": "emitters.white.junction_to_solder_resistance", "spread": "10 %"},
    "flux": {"of": "emitters.white.luminous_flux", "spread": "6 %", "group": "reel"},
    "volts": {"of": "emitters.white.forward_voltage", "spread": "2 %", "group": "reel"},
    "air": {
        "of": ["links.fan.resistance", "links.still.resistance"],
        "spread": "20 %",
        "distribution": "lognormal",
    },
    "paste": {"of": "links.interface.resistance", "high": "1.5 K/W", "distribution": "triangular"},
    "current": {"of": "channels.spot.current", "low": "0.95 A", "distribution": "uniform"},
    "ntc": {"of": "sensors.ntc.thermistor.r25", "spread": "5 %"},
    "adc": {"of": "sensors.ntc.adc.offset", "spread": "3 LSB", "sigmas": 2},
    "place": {"of": "ambient", "spread": "6 K", "truncated": False},
    "wind": {"of": "airflow", "spread": "30 %"},
}
GROUPS = {"reel": {"correlation": 0.8}}


def made(tables=TABLES, groups=GROUPS, **more):
    """The small spot of this room with tolerances."""
    return Lamp.model_validate(spot(tolerances=tables, tolerance_groups=groups, **more))


LAMP = made()
DRAWS = draw(LAMP, range(UNITS), seed=5)


def column(draws, name):
    """The scores of one draw."""
    return draws.scores[:, draws.names.index(name)]


def flat(value, key=""):
    """Every leaf of a dump by its key path, entries of lists by their names."""
    if isinstance(value, dict):
        entries = value.items()
    elif isinstance(value, list):
        named = [one.get("name") if isinstance(one, dict) else None for one in value]
        entries = ((name or str(i), one) for i, (name, one) in enumerate(zip(named, value)))  # noqa: B905
    else:
        return {key: value}
    return {k: v for step, one in entries for k, v in flat(one, f"{key}.{step}").items()}


def test_draws_say_what_they_are():
    """A row for each unit, a column for each table and for each key that it moves."""
    assert DRAWS.names == tuple(TABLES)
    assert DRAWS.scores.shape == (UNITS, len(TABLES))
    assert DRAWS.values.shape == (UNITS, len(DRAWS.keys))
    assert DRAWS.keys[:2] == (
        "emitters.white.junction_to_solder_resistance",
        "emitters.white.luminous_flux.0",
    )
    assert DRAWS.of(17) == dict(zip(DRAWS.keys, DRAWS.values[17], strict=True))
    with pytest.raises(KeyError, match="unit 99999 was not drawn"):
        DRAWS.of(99999)


def test_a_unit_alone_is_the_same_unit():
    """Any choice of units, in any order, gives each of them the very same numbers."""
    for units in ([3999], [12, 3, 700], range(100, 200), np.arange(5)[::-1]):
        found = draw(LAMP, units, seed=5)
        assert np.array_equal(found.values, DRAWS.values[list(units)])
        assert np.array_equal(found.scores, DRAWS.scores[list(units)])
    far = draw(LAMP, [4_000_000_000], seed=5)
    assert np.all(np.isfinite(far.values))


def test_the_order_of_tables_does_not_matter():
    """A table keeps its draw when others are added, taken away or written in another order."""
    backwards = draw(made(dict(reversed(TABLES.items()))), range(50), seed=5)
    for name in TABLES:
        assert np.array_equal(column(backwards, name), column(DRAWS, name)[:50])
    alone = draw(made({"flux": TABLES["flux"]}), range(50), seed=5)
    assert np.array_equal(column(alone, "flux"), column(DRAWS, "flux")[:50])


def test_seeds_and_names_choose_the_numbers():
    """Another seed is another batch, another name another draw, and no unit is like the next."""
    other = draw(LAMP, range(UNITS), seed=6)
    assert np.abs(np.corrcoef(other.scores.T, DRAWS.scores.T)[:10, 10:]).max() < FOUR_SIGMA
    renamed = draw(made({"chop": TABLES["chip"]}), range(UNITS), seed=5)
    pair = np.corrcoef(renamed.scores[:, 0], column(DRAWS, "chip"))
    assert abs(pair[0, 1]) < FOUR_SIGMA
    following = [np.corrcoef(one[:-1], one[1:])[0, 1] for one in DRAWS.scores.T]
    assert np.abs(following).max() < FOUR_SIGMA


def test_scores_are_those_of_the_counter():
    """A draw without a group is one normal number of (seed, unit, name), as the interpreter has."""
    digest = hashlib.sha256(b"chip").digest()
    tick, use = int.from_bytes(digest[:4]), int.from_bytes(digest[4:8]) | OF_PARTS
    for unit in (0, 1, 3999):
        known = gaussian.py_func(5, unit, tick, use)
        assert column(DRAWS, "chip")[unit] == pytest.approx(known, rel=1e-14)


@pytest.mark.parametrize("name", TABLES)
def test_scores_are_standard_normal(name):
    """Kolmogorov and Smirnov's test does not refuse the scores of any table, of groups neither."""
    assert stats.kstest(column(DRAWS, name), "norm").pvalue > LEAST_P


def test_groups_are_correlated_and_nothing_else():
    """0.8 between the scores of the group, none between all others."""
    found = np.corrcoef(DRAWS.scores.T)
    expected = np.eye(len(TABLES))
    one, other = DRAWS.names.index("flux"), DRAWS.names.index("volts")
    expected[one, other] = expected[other, one] = 0.8
    assert np.abs(found - expected).max() < FOUR_SIGMA


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.95])
def test_values_of_a_group_hang_together_by_the_copula(correlation):
    """Ranks of any two laws correlate by 6/pi asin(r/2), whatever the laws are."""
    tables = {
        "a": {"of": "links.fan.resistance", "spread": "40 %", "distribution": "uniform"},
        "b": {"of": "links.still.resistance", "spread": "70 %", "distribution": "lognormal"},
        "c": {"of": "links.interface.resistance", "high": "9 K/W", "distribution": "triangular"},
    }
    tables = {name: table | {"group": "a"} for name, table in tables.items()}
    found = draw(made(tables, {"a": {"correlation": correlation}}), range(UNITS), seed=1)
    ranks = stats.spearmanr(found.values).statistic
    expected = 6 / math.pi * math.asin(correlation / 2)
    for pair in ((0, 1), (0, 2), (1, 2)):
        assert ranks[pair] == pytest.approx(expected, abs=FOUR_SIGMA)


def test_full_correlation_is_one_draw():
    """A group of correlation 1 moves as one, and so do the keys of one table."""
    tables = {name: TABLES[name] for name in ("flux", "volts")}
    found = draw(made(tables, {"reel": {"correlation": 1.0}}), range(20))
    assert column(found, "flux") == pytest.approx(column(found, "volts"), rel=1e-12)
    fan, still = (DRAWS.keys.index(f"links.{name}.resistance") for name in ("fan", "still"))
    assert DRAWS.values[:, fan] / 3.0 == pytest.approx(DRAWS.values[:, still] / 12.0, rel=1e-12)
    fluxes = [k for k, key in enumerate(DRAWS.keys) if "luminous_flux" in key]
    assert len(fluxes) == 3
    ratios = DRAWS.values[:, fluxes] / np.array([38.0, 190.0, 340.0])
    assert np.ptp(ratios, axis=1).max() < 1e-12


def test_values_keep_to_their_limits():
    """All but the unbounded ones lie inside what the tables say, and come near."""
    reach = {
        "links.interface.resistance": (0.8, 1.5),
        "channels.spot.current": (0.95, 1.0),
        "sensors.ntc.deviation.r25": (-0.05, 0.05),
        "sensors.ntc.deviation.offset": (-3.0, 3.0),
        "airflow": (0.7, 1.3),
    }
    for key, (low, high) in reach.items():
        found = DRAWS.values[:, DRAWS.keys.index(key)]
        assert low <= found.min() < low + 0.1 * (high - low)
        assert high - 0.1 * (high - low) < found.max() <= high
    shift = DRAWS.values[:, DRAWS.keys.index("ambient")]
    assert np.abs(shift).max() > 6.0
    assert shift.std() == pytest.approx(2.0, rel=0.05)


@pytest.mark.parametrize("name", ["spot", *DEMOS])
def test_a_unit_differs_in_the_drawn_keys_only(name):
    """What is drawn stands in the lamp, and besides it only the tables of tolerances differ."""
    lamp = LAMP if name == "spot" else load(SIMS / f"{name}.toml")
    draws = draw(lamp, [7, 8], seed=2)
    unit = unit_lamp(lamp, draws, 8)
    drawn = draws.of(8)
    for key, value in drawn.items():
        if key not in ("ambient", "airflow"):
            assert quantities_at(unit, key)[0].value == pytest.approx(value, rel=1e-15)
    before, after = (flat(one.model_dump(mode="json", by_alias=True)) for one in (lamp, unit))
    changed = {key[1:] for key in before | after if before.get(key) != after.get(key)}
    other = {key for key in changed if not key.startswith("tolerance") and ".tolerance." not in key}
    assert other <= set(drawn)
    assert other >= {key for key in drawn if key not in ("ambient", "airflow")}
    assert not unit.tolerances
    assert not unit.tolerance_groups


@pytest.mark.parametrize("name", ["spot", *DEMOS])
def test_the_firmware_of_all_units_is_the_same(name):
    """The settings, reading table and fault windows included, are those of the nominal lamp."""
    lamp = LAMP if name == "spot" else load(SIMS / f"{name}.toml")
    draws = draw(lamp, range(5), seed=3)
    known = settings_code(lamp, chains_of(lamp))
    for unit in range(5):
        one = unit_lamp(lamp, draws, unit)
        assert settings_code(one, chains_of(one)) == known


def test_a_unit_misreads_and_its_firmware_acts_on_it():
    """A thermistor 5 % high in resistance reads cold, so that this unit is driven harder."""
    policy = {"kind": "foldback", "start": 25.0, "end": 45.0, "floor": 0.1}
    lamp = made({"ntc": TABLES["ntc"]}, controller={"policy": policy})
    draws = draw(lamp, range(200))
    highest, lowest = (int(order) for order in np.argsort(draws.values[:, 0])[[-1, 0]])
    cold, hot = (run(unit_lamp(lamp, draws, unit), unit=unit).trace for unit in (highest, lowest))
    assert cold["node_board_c"][-1] > hot["node_board_c"][-1] + 0.5
    misread_k = [one["reading_ntc_c"][-1] - one["thermistor_ntc_c"][-1] for one in (cold, hot)]
    assert misread_k[0] < -0.7 < 0.7 < misread_k[1]


def test_the_batch_runs_units_as_the_timeline_does():
    """Units with every part of their sensor off its print end at the timeline's temperatures."""
    sensor = spot()["sensors"]["ntc"] | {"adc": {"bits": 12, "noise": 1.0}}
    sensor["resistance"] = 400.0
    sensor["tolerance"] = {"r25": "5 %", "b_value": "2 %", "resistor": "3 %", "supply": "10 %"}
    sensor["tolerance"] |= {"resistor_drift": "200 ppm/K", "dissipation": "40 %", "offset": "3 LSB"}
    policy = {"kind": "foldback", "start": 25.0, "end": 45.0, "floor": 0.1}
    control = {"body": "c", "policy": policy}
    tables = {name: TABLES[name] for name in ("chip", "flux", "volts", "air", "current")}
    lamp = made(tables, sensors={"ntc": sensor}, controller=control)
    draws = draw(lamp, range(4), seed=9)
    profile = lamp.profiles["on"]
    batch = run_batch(
        lamp, profile, range(4), seed=9, unit_lamp=lambda unit: unit_lamp(lamp, draws, unit)
    )
    at = [batch.node_names.index(name) for name in ("board", "sink")]
    for unit in range(4):
        trace = run(unit_lamp(lamp, draws, unit), profile, seed=9, unit=unit).trace
        ends_c = [trace[f"node_{name}_c"][-1] for name in ("board", "sink")]
        assert batch.node_c[unit, at] == pytest.approx(ends_c, abs=EXACT_K)
    assert np.ptp(batch.node_c[:, at], axis=0).min() > 0.3


def test_tables_of_sensors_count_as_tolerances():
    """What a sensor's own table says is drawn evenly, unless a table names the same part."""
    sensor = spot()["sensors"]["ntc"] | {"tolerance": {"r25": "4 %", "resistor": "1 %"}}
    lamp = made({"ntc": TABLES["ntc"]}, {}, sensors={"ntc": sensor})
    draws = draw(lamp, range(UNITS))
    assert draws.names == ("ntc", "sensors.ntc.tolerance.resistor")
    resistor = draws.values[:, draws.keys.index("sensors.ntc.deviation.resistor")]
    assert stats.kstest(resistor, stats.uniform(-0.01, 0.02).cdf).pvalue > LEAST_P
    unit = unit_lamp(lamp, draws, 3)
    assert unit.sensors["ntc"].tolerance == Tolerance(r25=0.05, resistor=0.01)
    assert unit.sensors["ntc"].deviation.resistor == resistor[3]


def test_a_lamp_without_tolerances_has_units_alike():
    """Nothing is drawn, and the unit is the lamp."""
    lamp = made({}, {})
    draws = draw(lamp, range(3))
    assert draws.scores.shape == draws.values.shape == (3, 0)
    assert unit_lamp(lamp, draws, 1).model_dump() == lamp.model_dump()
    assert unit_profile(lamp.profiles["on"], draws, 1) == lamp.profiles["on"]


def test_an_impossible_unit_is_told_by_its_number():
    """An unbounded law brings about a resistance below zero in the end."""
    table = {"of": "links.interface.resistance", "spread": "90 %", "sigmas": 1, "truncated": False}
    lamp = made({"paste": table}, {})
    draws = draw(lamp, range(100))
    unit = int(np.argmin(draws.values[:, 0]))
    assert draws.values[unit, 0] < 0
    told = (
        rf"unit {unit} of seed 0: .*links\[entry 1\]\.resistance: found -.*, due a value above zero"
    )
    with pytest.raises(InputError, match=told):
        unit_lamp(lamp, draws, unit)


@pytest.mark.parametrize("each", [False, True])
def test_the_place_of_use_moves_the_profile(each):
    """Every ambient is shifted and the airflow scaled, at all times; the rest stays."""
    course = {"at": [0.0, 60.0], "value": [20.0, 30.0], "between": "line"}
    profile = {"duration": 120.0, "airflow": {"at": [0.0, 10.0], "value": [1.0, 0.5]}}
    profile["ambient"] = {"ambient": course} if each else course
    lamp = made(profiles={"any": profile})
    nominal = lamp.profiles["any"]
    draws = draw(lamp, range(3))
    found = unit_profile(nominal, draws, 2)
    drawn = draws.of(2)
    t_s = np.array([0.0, 5.0, 15.0, 70.0])
    moved, still = (
        one.ambient_courses(["ambient"])["ambient"].values(t_s) for one in (found, nominal)
    )
    assert moved == pytest.approx(still + drawn["ambient"], abs=1e-12)
    assert found.airflow.values(t_s) == pytest.approx(
        nominal.airflow.values(t_s) * drawn["airflow"]
    )
    assert found.airflow.value(15.0) == pytest.approx(0.5 * drawn["airflow"])
    assert found.jumps() == nominal.jumps()
    assert found.duration_s == nominal.duration_s
