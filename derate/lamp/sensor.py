"""Sensor: a thermistor on a node, the divider around it, the ADC behind it, what disturbs it."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo

from derate.lamp.part import Name, Part, whole
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    JoulePerKelvin,
    KelvinPerWatt,
    Lsb,
    Ohm,
    Ratio,
    Unit,
    Volt,
    VoltPerAmpere,
    check,
)
from derate.lamp.sentence import wrong
from derate.lamp.thermistor import Thermistor
from derate.lamp.tolerance import Tolerance

_REFERENCE_DUE = '"ratiometric" or a voltage such as "2.5 V"'


def _reference(value: Any, info: ValidationInfo) -> Any:
    if value == "ratiometric":
        return value
    voltage_v = Unit("V", "v", _REFERENCE_DUE).read(value, info)
    if voltage_v <= 0:
        raise wrong(_REFERENCE_DUE)
    return voltage_v


class Divider(Part):
    """The thermistor and one fixed resistor between supply and ground.

    "pull-up" puts the fixed resistor to the supply and the thermistor to ground, "pull-down" the
    other way round. ``reference`` is "ratiometric" (the ADC measures against the supply) or the
    voltage [V] of a reference of its own.
    """

    arrangement: Literal["pull-up", "pull-down"] = Field(description='"pull-up" or "pull-down"')
    resistor_ohm: Annotated[Ohm, POSITIVE]
    supply_v: Annotated[Volt, POSITIVE]
    reference: Annotated[float | Literal["ratiometric"], BeforeValidator(_reference)] = Field(
        description=_REFERENCE_DUE
    )


class Adc(Part):
    """The converter and its errors; ``gain_error`` is a ratio, noise is rms."""

    bits: Annotated[int, whole(6, 16)] = Field(description="a whole number from 6 to 16")
    offset_lsb: Lsb = 0.0
    gain_error: Annotated[
        Ratio, check(lambda ratio: -0.5 < ratio < 0.5, 'a ratio from "-50 %" to "50 %"')
    ] = 0.0
    inl_lsb: Lsb = 0.0
    noise_lsb: Annotated[Lsb, NOT_NEGATIVE] = 0.0
    oversampling: Annotated[int, whole(1, 65536)] = 1


class Disturbance(Part):
    """What the LED current does to the measurement, and when the ADC samples against PWM."""

    ground_v_per_a: VoltPerAmpere = 0.0
    supply_v_per_a: VoltPerAmpere = 0.0
    sampling: Literal["free", "on", "off"] = "free"


class Sensor(Part):
    """A thermistor body attached to a node, with a lag of resistance times capacitance."""

    at: Name = Field(description="the node it sits on")
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE]
    capacitance_j_per_k: Annotated[JoulePerKelvin, NOT_NEGATIVE]
    to_ambient_k_per_w: Annotated[KelvinPerWatt, POSITIVE] | None = None
    thermistor: Thermistor = Field(description="a table that describes the thermistor")
    divider: Divider = Field(description="a table that describes the divider")
    adc: Adc = Field(description="a table that describes the ADC")
    disturbance: Disturbance = Disturbance()
    tolerance: Tolerance = Tolerance()
