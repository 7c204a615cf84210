"""Quantities as a lamp file writes them, "350 mA" or "85 degC", turned into plain floats.

SI inside, except temperatures, which stay in degC. Each field type below names its unit, and the
name of each field ends in that unit's suffix.
"""

import math
import numbers
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, get_args

from pydantic import AfterValidator, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from derate.lamp.notation import convert
from derate.lamp.sentence import wrong


@dataclass(frozen=True)
class Source:
    """Where values come from: a file wants units, Python may give numbers in the named unit."""

    folder: Any = None
    numbers: bool = False


def source_of(info: ValidationInfo) -> Source | None:
    """The file behind the values being validated, None when they come from Python."""
    return info.context if isinstance(info.context, Source) else None


@dataclass(frozen=True)
class Unit:
    """Marks a float field as a quantity: symbol of the unit, suffix of the name, what is due."""

    symbol: str
    suffix: str
    due: str

    def read(self, value: object, info: ValidationInfo) -> float:
        """The value in this unit [symbol]."""
        source = source_of(info)
        bare_is_right = source is None or source.numbers or self.symbol == ""
        try:
            if isinstance(value, str):
                return convert(value, self.symbol)
            if isinstance(value, numbers.Real) and not isinstance(value, bool) and bare_is_right:
                number = float(value)
                if math.isfinite(number):
                    return number
        except (ValueError, OverflowError):
            pass
        raise wrong(self.due)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        return {"type": "string" if self.symbol else ["string", "number"], "description": self.due}


def check(rule: Callable[[Any], bool], due: str) -> AfterValidator:
    """An extra demand on a field: ``rule`` must hold, else ``due`` is what the user is told."""

    def hold(value: Any) -> Any:
        if not rule(value):
            raise wrong(due)
        return value

    return AfterValidator(hold)


def bits(low: int, high: int) -> AfterValidator:
    """A whole number of bits from ``low`` to ``high``."""

    def hold(value: float) -> int:
        if not (value == round(value) and low <= value <= high):
            raise wrong(f"a whole number of bits from {low} to {high}")
        return round(value)

    return AfterValidator(hold)


POSITIVE = check(lambda value: value > 0, "a value above zero")
NOT_NEGATIVE = check(lambda value: value >= 0, "zero or a value above zero")

_LONGEST_S = 1e9  # about 30 years; nanoseconds still fit 64 bits with room to spare


def _whole_nanoseconds(time_s: float) -> bool:
    time_ns = time_s * 1e9
    whole = round(time_ns)
    return abs(time_ns - whole) <= 1e-3 + 1e-12 * time_ns and (whole > 0) == (time_s > 0)


def _within(least: float, most: float) -> Callable[[float], bool]:
    """Values a network can be solved with; zero and below are left to the field's own rule."""
    return lambda value: value <= 0 or least <= value <= most


Ampere = Annotated[float, Unit("A", "a", 'a current such as "350 mA"')]
Volt = Annotated[float, Unit("V", "v", 'a voltage such as "3.3 V"')]
Watt = Annotated[float, Unit("W", "w", 'a power such as "0.9 W"')]
Lumen = Annotated[float, Unit("lm", "lm", 'a luminous flux such as "120 lm"')]
Ohm = Annotated[float, Unit("ohm", "ohm", 'a resistance such as "10 kohm"')]
Farad = Annotated[float, Unit("F", "f", 'a capacitance such as "8 pF"')]
Hertz = Annotated[float, Unit("Hz", "hz", 'a frequency such as "1 kHz"')]
Second = Annotated[
    float,
    Unit("s", "s", 'a time such as "100 ms"'),
    NOT_NEGATIVE,
    check(lambda time_s: time_s <= _LONGEST_S, "a time of at most 1e9 s"),
    check(_whole_nanoseconds, "a time of whole nanoseconds"),
]
Celsius = Annotated[
    float,
    Unit("degC", "c", 'a temperature such as "85 degC"'),
    check(lambda at_c: -273.15 < at_c <= 1000, "a temperature from absolute zero to 1000 degC"),
]
Kelvin = Annotated[float, Unit("K", "k", 'a temperature difference such as "2 K"')]
KelvinPerWatt = Annotated[
    float,
    Unit("K/W", "k_per_w", 'a thermal resistance such as "4.2 K/W"'),
    check(_within(1e-9, 1e9), "a thermal resistance from 1e-9 to 1e9 K/W"),
]
JoulePerKelvin = Annotated[
    float,
    Unit("J/K", "j_per_k", 'a heat capacity such as "60 J/K"'),
    check(_within(1e-9, 1e9), "a heat capacity from 1e-9 to 1e9 J/K"),
]
VoltPerKelvin = Annotated[float, Unit("V/K", "v_per_k", 'a slope such as "-1.8 mV/K"')]
VoltPerAmpere = Annotated[float, Unit("V/A", "v_per_a", 'a voltage per current such as "2 mV/A"')]
Metre = Annotated[
    float,
    Unit("m", "m", 'a length such as "12 mm"'),
    check(lambda length_m: abs(length_m) <= 100, "at most 100 m"),
]
MetrePerKelvin = Annotated[
    float, Unit("m/K", "m_per_k", 'a shift of wavelength such as "0.1 nm/K"')
]
MetrePerSecond = Annotated[float, Unit("m/s", "m_per_s", 'a speed such as "2 m/s"')]
CubicMetrePerSecond = Annotated[
    float,
    Unit("m^3/s", "m3_per_s", 'a volume flow such as "20 m^3/h"'),
    check(_within(1e-7, 10), "a volume flow from 1e-7 to 10 m^3/s"),
]
Pascal = Annotated[
    float,
    Unit("Pa", "pa", 'a pressure such as "40 Pa"'),
    check(_within(0.01, 1e5), "a pressure from 0.01 to 1e5 Pa"),
]
Kilogram = Annotated[
    float,
    Unit("kg", "kg", 'a mass such as "180 g"'),
    check(_within(1e-9, 1e6), "a mass from 1e-9 to 1e6 kg"),
]
Joule = Annotated[float, Unit("J", "j", 'an energy such as "3 uJ"')]
WattPerMetreKelvin = Annotated[
    float,
    Unit("W/m/K", "w_per_m_k", 'a thermal conductivity such as "140 W/(m*K)"'),
    check(_within(1e-3, 1e5), "a thermal conductivity from 0.001 to 1e5 W/(m*K)"),
]
KilogramPerCubicMetre = Annotated[
    float,
    Unit("kg/m^3", "kg_per_m3", 'a density such as "2700 kg/m^3"'),
    check(_within(0.1, 1e5), "a density from 0.1 to 1e5 kg/m^3"),
]
JoulePerKilogramKelvin = Annotated[
    float,
    Unit("J/kg/K", "j_per_kg_k", 'a specific heat such as "900 J/(kg*K)"'),
    check(_within(1, 1e5), "a specific heat from 1 to 1e5 J/(kg*K)"),
]
SquareMetreKelvinPerWatt = Annotated[
    float,
    Unit("m^2*K/W", "m2_k_per_w", 'an area resistance such as "20 mm^2*K/W"'),
    check(_within(1e-9, 1e3), "an area resistance from 0.001 mm^2*K/W to 1000 m^2*K/W"),
]
PerKelvin = Annotated[float, Unit("1/K", "per_k", 'a gain per kelvin such as "0.05 1/K"')]
PerKelvinSecond = Annotated[
    float, Unit("1/K/s", "per_k_s", 'a gain per kelvin and second such as "0.002 1/(K*s)"')
]
PerSecond = Annotated[float, Unit("1/s", "per_s", 'a rate such as "0.5 1/s" or "50 %/s"')]
Lsb = Annotated[float, Unit("LSB", "lsb", 'an ADC error such as "1.5 LSB"')]
Ratio = Annotated[float, Unit("", "", 'a ratio such as 0.2 or "20 %"')]
Bits = Annotated[int, Unit("bit", "bits", 'a number of bits such as "12 bit"')]
Share = Annotated[
    Ratio, check(lambda share: 0 <= share <= 1, 'a ratio from 0 to 1, or "0 %" to "100 %"')
]

_UNITS: list[Unit] = [
    get_args(kind)[1]
    for kind in (
        Ampere, Volt, Watt, Lumen, Ohm, Farad, Hertz, Second, Celsius, Kelvin, KelvinPerWatt,
        JoulePerKelvin, VoltPerKelvin, VoltPerAmpere, PerKelvin, PerKelvinSecond, PerSecond, Lsb,
        Bits, Metre, MetrePerKelvin, MetrePerSecond, CubicMetrePerSecond, Pascal, Kilogram, Joule,
        WattPerMetreKelvin, KilogramPerCubicMetre, JoulePerKilogramKelvin, SquareMetreKelvinPerWatt,
    )
]  # fmt: skip
UNITS = tuple(sorted(_UNITS, key=lambda unit: -len(unit.suffix)))
"""All units by their suffixes, the longest first: ``_j_per_kg_k`` ends in ``_k`` as well."""


def unit_of(name: str) -> Unit | None:
    """The unit a name's suffix stands for: ``capacitance_j_per_k`` gives J/K; None without one."""
    return next((unit for unit in UNITS if name.endswith("_" + unit.suffix)), None)


def key_of(name: str) -> str:
    """The key in a file for a field's name: ``capacitance_j_per_k`` is written ``capacitance``."""
    unit = unit_of(name)
    return name.removesuffix("_" + unit.suffix) if unit else name
