"""Tolerances of a lamp file: what the tables mean, in the unit of each key."""

import pytest

from derate.errors import InputError
from derate.lamp import Lamp, load, starter_text, variations
from derate.lamp.quantity_at import quantities_at
from derate.lamp.tolerance import DEVIATIONS, Deviation, Tolerance
from derate.lamp.variation import Limits
from tests.loop.lamps import spot
from tests.study.lamps import SURFACES

ROUNDING = 1e-12
"""Relative."""


def lamp(table, groups=None, **tables):
    """The small spot with one table of tolerances."""
    raw = spot(tolerances={"one": table}, tolerance_groups=groups or {}, **tables)
    return Lamp.model_validate(raw)


def limits(table, **tables):
    """The limits of every key of one table."""
    (one,) = variations(lamp(table, **tables))
    return one.keys


def ends(table, **tables):
    """Key, low and high of a table of one key."""
    (one,) = limits(table, **tables)
    return one.key, pytest.approx(one.low, rel=ROUNDING), pytest.approx(one.high, rel=ROUNDING)


CHIP = "emitters.white.junction_to_solder_resistance"
WIDTHS = {
    "share": ({"spread": "10 %"}, 2.7, 3.3),
    "bare share": ({"spread": 0.1}, 2.7, 3.3),
    "unit": ({"spread": "0.5 K/W"}, 2.5, 3.5),
    "another unit": ({"spread": "500 K/kW"}, 2.5, 3.5),
    "both ends": ({"low": "2 K/W", "high": "3.5 K/W"}, 2.0, 3.5),
    "above": ({"high": "3.5 K/W"}, 3.0, 3.5),
    "below": ({"low": "2 K/W"}, 2.0, 3.0),
    "a factor": ({"spread": "50 %", "distribution": "lognormal"}, 2.0, 4.5),
    "a factor by its unit": ({"spread": "1.5 K/W", "distribution": "lognormal"}, 2.0, 4.5),
}


@pytest.mark.parametrize(("width", "low", "high"), WIDTHS.values(), ids=WIDTHS.keys())
def test_widths(width, low, high):
    """Shares count of the nominal value, quantities in the unit of the key; one end may be out."""
    assert ends({"of": CHIP} | width) == (CHIP, low, high)


KEYS = {
    "a ratio counts as it stands": ("driver.efficiency", "2 %", 0.88, 0.92),
    "negative values": ("emitters.white.forward_voltage_slope", "10 %", -0.0022, -0.0018),
    "a default": ("channels.spot.forward_voltage_offset", "50 mV", -0.05, 0.05),
    "an entry of a list": ("emitters.white.luminous_flux.1", "10 %", 171.0, 209.0),
    "a link by its name": ("links.fan.resistance", "10 %", 2.7, 3.3),
    "a material": ("materials.aluminium_6061.specific_heat", "9 J/(kg*K)", 887.0, 905.0),
    "ambient": ("ambient", "3 K", -3.0, 3.0),
    "airflow": ("airflow", "20 %", 0.8, 1.2),
    "airflow as a factor": ("airflow", 0.2, 0.8, 1.2),
}
DRIVER = {"efficiency": 0.9}


@pytest.mark.parametrize(("key", "spread", "low", "high"), KEYS.values(), ids=KEYS.keys())
def test_keys_of_every_kind(key, spread, low, high):
    """A key path leads to its value, in its unit; the place of use has two keys of its own."""
    assert ends({"of": key, "spread": spread}, driver=DRIVER) == (key, low, high)


MEANT = {
    "sensors.ntc.thermistor.r25": "sensors.ntc.deviation.r25",
    "sensors.ntc.thermistor.b_value": "sensors.ntc.deviation.b_value",
    "sensors.ntc.divider.resistor": "sensors.ntc.deviation.resistor",
    "sensors.ntc.divider.supply": "sensors.ntc.deviation.supply",
    "sensors.ntc.adc.gain": "sensors.ntc.deviation.gain",
    "sensors.ntc.deviation.dissipation": "sensors.ntc.deviation.dissipation",
}


@pytest.mark.parametrize(("path", "key"), MEANT.items())
def test_what_the_firmware_reads_by_lies_off_by_itself(path, key):
    """Parts of a sensor vary by their relative error, and the printed value stays."""
    assert ends({"of": path, "spread": "2 %"}) == (key, -0.02, 0.02)


def test_the_converter_and_surfaces():
    """An offset varies in LSB, a surface by a factor on all its heat."""
    found = ends({"of": "sensors.ntc.adc.offset", "spread": "2 LSB"})
    assert found == ("sensors.ntc.deviation.offset", -2.0, 2.0)
    found = ends({"of": "surfaces.fins", "spread": "15 %"}, surfaces=SURFACES)
    assert found == ("surfaces.fins.heat_factor", 0.85, 1.15)


def test_a_list_stands_for_all_its_values():
    """Every value of a curve, and every key of a list of keys, belongs to the one draw."""
    found = limits({"of": ["emitters.white.forward_voltage", CHIP], "spread": "10 %"})
    names = [f"emitters.white.forward_voltage.{i}" for i in range(3)]
    assert [one.key for one in found] == [*names, CHIP]
    assert [one.nominal for one in found] == [2.7, 2.9, 3.1, 3.0]
    assert [one.high / one.nominal for one in found] == pytest.approx([1.1] * 4)


def test_links_are_one_by_name_and_number():
    """A link with a name goes by it, one without by its number."""
    links = [*spot()["links"], {"between": ["board", "ambient"], "resistance": 50.0}]
    (named,) = limits({"of": "links.1.resistance", "spread": "1 %"}, links=links)
    (bare,) = limits({"of": "links.3.resistance", "spread": "1 %"}, links=links)
    assert (named.key, bare.key) == ("links.fan.resistance", "links.3.resistance")


def test_a_group_brings_its_correlation():
    """Without a group a draw stands alone."""
    (one,) = variations(
        lamp({"of": CHIP, "spread": "1 %", "group": "reel"}, {"reel": {"correlation": "80 %"}})
    )
    assert (one.group, one.correlation) == ("reel", 0.8)
    (alone,) = variations(lamp({"of": CHIP, "spread": "1 %"}))
    assert (alone.group, alone.correlation) == (None, 0.0)
    assert (alone.distribution, alone.sigmas, alone.truncated) == ("normal", 3.0, True)


@pytest.mark.parametrize("key", [key for key, *_ in KEYS.values() if "." in key])
def test_a_changed_lamp_holds_the_key(key):
    """What a key path finds is what ``with_changes`` sets at the same path."""
    one = lamp({"of": CHIP, "spread": "1 %"}, driver=DRIVER)
    (found,) = quantities_at(one, key)
    value = 1.01 * found.value + 1e-4
    assert quantities_at(one.with_changes({key: value}), key) == (found._replace(value=value),)


def test_what_sensors_tolerate_varies_too(starter):
    """Each entry of a sensor's table is a draw of its own, even, unless a table names the part."""
    found = {one.name: one for one in variations(starter) if one.name.startswith("sensors.")}
    assert list(found) == [
        f"sensors.ntc.tolerance.{key}"
        for key in ("resistor", "resistor_drift", "r25", "b_value", "supply", "dissipation")
    ]
    assert {one.distribution for one in found.values()} == {"uniform"}
    r25 = found["sensors.ntc.tolerance.r25"]
    assert r25.keys == (Limits("sensors.ntc.deviation.r25", 0.0, -0.03, 0.03),)
    named = {"of": "sensors.ntc.thermistor.r25", "spread": "1 %"}
    names = [one.name for one in variations(starter.with_changes({"tolerances.ntc": named}))]
    assert "ntc" in names
    assert "sensors.ntc.tolerance.r25" not in names


def test_every_resistor_has_a_draw_of_its_own(starter):
    """One tolerance of resistors is three draws where there are three resistors."""
    more = {"sensors.ntc.divider.series": "470 ohm", "sensors.ntc.divider.parallel": "220 kohm"}
    names = [one.name for one in variations(starter.with_changes(more))]
    for key in ("resistor", "series", "parallel"):
        assert f"sensors.ntc.tolerance.{key}" in names
        assert f"sensors.ntc.tolerance.{key}_drift" in names


def test_a_sensor_allows_for_all_tables(starter):
    """Budget and fault windows see what tables say of a sensor, the farther limit counting."""
    tables = {
        "tolerances.ntc": {"of": "sensors.ntc.thermistor.r25", "low": "-1 %", "high": "2 %"},
        "tolerances.adc": {"of": "sensors.ntc.adc.offset", "spread": "3 LSB"},
    }
    changed = starter.with_changes(tables)
    known = starter.sensors["ntc"].tolerance
    found = changed.toleranced("ntc").tolerance
    assert found == known.model_copy(update={"r25": 0.02, "offset_lsb": 3.0})
    assert changed.sensors["ntc"].tolerance == known
    assert starter.toleranced("ntc").tolerance == known
    series = starter.with_changes(
        {
            "sensors.ntc.divider.series": "470 ohm",
            "tolerances.r": {"of": "sensors.ntc.divider.series", "spread": "5 %"},
        }
    )
    assert series.toleranced("ntc").tolerance.resistor == 0.05


def test_deviations_mirror_the_tolerances():
    """Every tolerance limits deviations, and every deviation is limited by one tolerance."""
    assert set(DEVIATIONS) == set(Tolerance.model_fields)
    keys = [field.alias for field in Deviation.model_fields.values()]
    assert sorted(key for limited in DEVIATIONS.values() for key in limited) == sorted(keys)
    assert set(Deviation().model_dump().values()) == {0.0}


def test_a_possible_corner_needs_no_company(tmp_path):
    """Draws that only together make no lamp are accepted; each of them alone is looked at."""
    text = starter_text().replace('spread = "7 %"', 'spread = "40 %"')
    text = text.replace('spread = "2 %"', 'spread = "45 %"')
    path = tmp_path / "lamp.toml"
    path.write_text(text, encoding="utf-8")
    assert load(path).tolerances["flux"].spread == "40 %"


def test_limits_are_looked_at_when_a_file_is_read(tmp_path):
    """A lamp changed in Python is looked at when it is drawn; a file at once."""
    one = lamp({"of": CHIP, "spread": "120 %"})
    (variation,) = variations(one)
    assert variation.keys[0].low < 0
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text().replace('spread = "10 %"', 'spread = "120 %"'), encoding="utf-8")
    with pytest.raises(InputError, match=r"tolerances\.chip\.spread: .* at the low end, due"):
        load(path)


def test_a_bare_number_is_a_ratio_also_in_python():
    """So that a lamp from a file means the same after a change in Python."""
    with pytest.raises(Exception, match="a thermal resistance such as"):
        lamp({"of": CHIP, "low": 2.5})
    changed = lamp({"of": CHIP, "spread": 0.1}).with_changes({"controller.cutoff": 99.0})
    assert variations(changed)[0].keys[0].high == pytest.approx(3.3)


def test_a_part_that_is_not_there_cannot_vary(tmp_path):
    """A tolerance of a part that the lamp file leaves out is told by that part."""
    path = tmp_path / "drawn.toml"
    text = starter_text(board=True)
    bare = text.replace("dielectric = { thick", "# dielectric = { thick")
    assert bare != text
    path.write_text(bare, encoding="utf-8")
    with pytest.raises(InputError, match=r"and it has no board\.dielectric"):
        load(path)
