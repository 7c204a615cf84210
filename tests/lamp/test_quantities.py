"""Quantities: a number and a unit become a float in the named unit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

import derate.lamp
from derate.lamp.notation import _scale
from derate.lamp.quantities import Unit, convert, key_of, unit_of
from derate.lamp.usual import USUAL

ROUNDING = 1e-12  # relative; a conversion is one multiplication in double precision

RIGHT = [
    ("350 mA", "A", 0.35),
    ("85 degC", "degC", 85.0),
    ("85°C", "degC", 85.0),
    ("358.15 K", "degC", 85.0),
    ("185 degF", "degC", 85.0),
    ("4.2 K/W", "K/W", 4.2),
    ("4.2 °C/W", "K/W", 4.2),
    ("-1.8 mV/K", "V/K", -0.0018),
    ("-1.8 mV/degC", "V/K", -0.0018),
    ("2.5 mJ/K", "J/K", 0.0025),
    ("10 kohm", "ohm", 1e4),
    ("10 kΩ", "ohm", 1e4),
    ("20 %", "", 0.2),
    ("20 %/s", "1/s", 0.2),
    ("0.05 %/K/s", "1/K/s", 0.0005),
    ("0.002 1/(K*s)", "1/K/s", 0.002),
    ("1.5 LSB", "LSB", 1.5),
    ("12 bit", "bit", 12.0),
    ("2 min", "s", 120.0),
    ("1e-3 s", "s", 0.001),
    ("+0.5 V", "V", 0.5),
    ("35 um", "m", 35e-6),
    ("35 µm", "m", 35e-6),
    ("1 oz", "kg", 0.028349523125),
    ("140 W/(m*K)", "W/m/K", 140.0),
    ("140 W/m/K", "W/m/K", 140.0),
    ("1.4 W/(cm*degC)", "W/m/K", 140.0),
    ("2.7 g/cm^3", "kg/m^3", 2700.0),
    ("0.9 J/(g*K)", "J/kg/K", 900.0),
    ("20 mm^2*K/W", "m^2*K/W", 2e-5),
    ("0.2 K·cm²/W", "m^2*K/W", 2e-5),
    ("20 m^3/h", "m^3/s", 20 / 3600),
    ("0.4 mbar", "Pa", 40.0),
    ("3 uJ", "J", 3e-6),
    ("7.2 km/h", "m/s", 2.0),
    ("85 C", "degC", 85.0),
    ("4.2 C/W", "K/W", 4.2),
    ("-1.8 mV/C", "V/K", -0.0018),
    ("2 W/mK", "W/m/K", 2.0),
    ("2 W/m-K", "W/m/K", 2.0),
    ("2 W/m K", "W/m/K", 2.0),
    ("2 W/m·K", "W/m/K", 2.0),
    ("2 W/(m K)", "W/m/K", 2.0),
    ("2 W m^-1 K^-1", "W/m/K", 2.0),
    ("2 W·m⁻¹·K⁻¹", "W/m/K", 2.0),
    ("2 W/(m·C)", "W/m/K", 2.0),
    ("900 J/kgK", "J/kg/K", 900.0),
    ("0.9 J/g-K", "J/kg/K", 900.0),
    ("20 mm2K/W", "m^2*K/W", 2e-5),
    ("20 mm²·K/W", "m^2*K/W", 2e-5),
    ("10 CFM", "m^3/s", 10 * 0.3048**3 / 60),
    ("10 cfm", "m^3/s", 10 * 0.3048**3 / 60),
    ("20 m3/h", "m^3/s", 20 / 3600),
    ("5 l/s", "m^3/s", 5e-3),
    ("2700 kg/m3", "kg/m^3", 2700.0),
    ("4 mil", "m", 4 * 25.4e-6),
    ("4 mils", "m", 4 * 25.4e-6),
    ("2 inch", "m", 0.0508),
    ("2 in", "m", 0.0508),
]
WRONG = [
    ("350", "A"),
    ("350 mV", "A"),
    ("mA", "A"),
    ("inf A", "A"),
    ("nan A", "A"),
    ("1e999 A", "A"),
    ("5 degC", "K"),
    ("2 C", "K"),
    ("1 C", "A"),
    ("85 kC", "degC"),
    ("2 W/mK", "W"),
    ("2 mil", "degC"),
    ("1.5 LSB", "V"),
    ("1.5 V", "LSB"),
    ("3 bit", "LSB"),
    ("35 um", "m^2*K/W"),
    ("140 W/K", "W/m/K"),
    ("1 oz", "m"),
    ("19 cd", "lm"),
    ("1 A + 1 A", "A"),
    ("2 A**9**9", "A"),
    ("1,5 A", "A"),
    ("٣ A", "A"),
    ("__import__('os')", "A"),
]


@pytest.mark.parametrize(("text", "symbol", "number"), RIGHT, ids=[row[0] for row in RIGHT])
def test_a_quantity_is_converted(text, symbol, number):
    """A number with a unit of the right dimension becomes that number in the named unit."""
    assert convert(text, symbol) == pytest.approx(number, rel=ROUNDING)


@pytest.mark.parametrize(("text", "symbol"), WRONG, ids=[row[0] for row in WRONG])
def test_what_is_no_quantity_is_refused(text, symbol):
    """Text without unit, of another dimension or not finite is refused."""
    with pytest.raises(ValueError, match=r".*"):
        convert(text, symbol)


@given(st.integers(min_value=0, max_value=10**6))
def test_thousandths_stay_exact(number):
    """Milliampere give the float that the decimal number in ampere would give."""
    assert convert(f"{number} mA", "A") == number / 1000


def test_keys_lose_their_suffix():
    """The longest suffix that fits names the unit, and the key in the file does without it."""
    assert key_of("capacitance_j_per_k") == "capacitance"
    assert key_of("integral_per_k_s") == "integral"
    assert key_of("forward_voltage_slope_v_per_k") == "forward_voltage_slope"
    assert key_of("through_conductivity_w_per_m_k") == "through_conductivity"
    assert key_of("area_resistance_m2_k_per_w") == "area_resistance"
    assert key_of("specific_heat_j_per_kg_k") == "specific_heat"
    assert key_of("airflow_m_per_s") == "airflow"
    assert key_of("flow_m3_per_s") == "flow"
    assert key_of("bits") == "bits"
    assert key_of("series") == "series"
    assert unit_of("attack_per_s") == Unit("1/s", "per_s", unit_of("attack_per_s").due)


def units_in(annotation, metadata=()):
    """The units that mark a field, however deep in lists and options."""
    marks = (*metadata, *getattr(annotation, "__metadata__", ()))
    found = {mark.symbol for mark in marks if isinstance(mark, Unit)}
    for argument in getattr(annotation, "__args__", ()):
        if not (isinstance(argument, type) and issubclass(argument, BaseModel)):
            found |= units_in(argument)
    return found


def test_every_suffix_agrees_with_its_unit():
    """A field whose name ends in a unit's suffix holds that unit, and the other way round."""
    models = [model for model in vars(derate.lamp).values() if isinstance(model, type)]
    pairs_of_two_units = {"points", "table", "steinhart_hart", "polynomial", "knots"}
    checked = 0
    for model in models:
        for name, field in model.model_fields.items():
            if name in pairs_of_two_units or name == "at":
                continue
            expected = unit_of(name)
            units = units_in(field.annotation, field.metadata) - {""}
            assert units == ({expected.symbol} if expected else set()), f"{model.__name__}.{name}"
            checked += bool(expected)
    assert checked > 50


@pytest.mark.parametrize("pair", USUAL)
def test_usual_units_are_those_of_the_library(pair):
    """A unit that is looked up has the very factor that the library of units would give it."""
    assert USUAL[pair] == _scale(*pair)
