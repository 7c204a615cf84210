"""Sensor: a thermistor on a node, the divider around it, the ADC behind it, what disturbs it."""

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Discriminator, Field, Tag, ValidationInfo, model_validator

from derate.lamp.outline import Position
from derate.lamp.part import Name, Part, Price, whole
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Farad,
    JoulePerKelvin,
    KelvinPerWatt,
    Lsb,
    Ohm,
    Ratio,
    Share,
    Unit,
    Volt,
    VoltPerAmpere,
    check,
)
from derate.lamp.sentence import wrong
from derate.lamp.thermistor import Thermistor
from derate.lamp.tolerance import Deviation, Tolerance

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
    voltage [V] of a reference of its own. ``parallel_ohm`` [ohm] lies across the thermistor, to
    straighten its curve; ``series_ohm`` [ohm] between the two and the ADC's input.
    """

    arrangement: Literal["pull-up", "pull-down"] = Field(description='"pull-up" or "pull-down"')
    resistor_ohm: Annotated[Ohm, POSITIVE]
    supply_v: Annotated[Volt, POSITIVE]
    reference: Annotated[float | Literal["ratiometric"], BeforeValidator(_reference)] = Field(
        description=_REFERENCE_DUE
    )
    series_ohm: Annotated[Ohm, NOT_NEGATIVE] = 0.0
    parallel_ohm: Annotated[Ohm, POSITIVE] | None = None


class Sampling(Part):
    """How the ADC takes its sample, for the error that is left when there is little time.

    A capacitor of ``capacitance_f`` [F] is joined for ``time_s`` [s] to the pin, through
    ``switch_ohm`` [ohm]. It arrives with the voltage of the channel converted before, ``previous``
    [0..1] of the reference: 0 or 1 is the worst case. ``filter_capacitance_f`` [F] is a capacitor
    from the pin to ground, ``to_pin_ohm`` [ohm] a resistor between divider and pin.
    """

    capacitance_f: Annotated[Farad, POSITIVE]
    switch_ohm: Annotated[Ohm, NOT_NEGATIVE]
    time_s: Annotated[float, Unit("s", "s", 'a time such as "1.5 us"'), POSITIVE]
    previous: Share
    filter_capacitance_f: Annotated[Farad, NOT_NEGATIVE] = 0.0
    to_pin_ohm: Annotated[Ohm, NOT_NEGATIVE] = 0.0

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.filter_capacitance_f and not self.switch_ohm:
            due = "a resistance above zero, as there is a filter_capacitance"
            raise wrong(due, key=("switch",))
        return self


class Adc(Part):
    """The converter and its errors; ``gain_error`` is a ratio, noise is rms.

    ``inl_lsb`` [LSB] is the peak of a bow or an S, ``dnl_lsb`` [LSB] that of codes wide and narrow
    by turns. ``sampling`` left out: every sample settles fully.
    """

    bits: Annotated[int, whole(6, 16)] = Field(description="a whole number from 6 to 16")
    offset_lsb: Lsb = 0.0
    gain_error: Annotated[
        Ratio, check(lambda ratio: -0.5 < ratio < 0.5, 'a ratio from "-50 %" to "50 %"')
    ] = 0.0
    inl_lsb: Lsb = 0.0
    inl_shape: Literal["bow", "s"] = "bow"
    dnl_lsb: Annotated[Lsb, check(lambda dnl: -1 <= dnl <= 1, 'from "-1 LSB" to "1 LSB"')] = 0.0
    noise_lsb: Annotated[Lsb, NOT_NEGATIVE] = 0.0
    oversampling: Annotated[int, whole(1, 65536)] = 1
    sampling: Sampling | None = None


class Disturbance(Part):
    """What the LED current does to the measurement, and when the ADC samples against PWM."""

    ground_v_per_a: VoltPerAmpere = 0.0
    supply_v_per_a: VoltPerAmpere = 0.0
    sampling: Literal["free", "on", "off"] = "free"


def _node_or_position(value: Any) -> str:
    return "position" if isinstance(value, list | tuple) else "node"


class Sensor(Part):
    """A thermistor body attached to a node, with a lag of resistance times capacitance.

    The divider's current warms the body. Its ``resistance_k_per_w`` [K/W] to the node says by how
    much; the maker's dissipation constant [mW/K] is the inverse of that in still air, 2 mW/K being
    500 K/W, and its time constant belongs to it.
    """

    at: Annotated[
        Annotated[Name, Tag("node")] | Annotated[Position, Tag("position")],
        Discriminator(_node_or_position),
    ] = Field(description="the node it sits on, or a position on the board")
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE]
    capacitance_j_per_k: Annotated[JoulePerKelvin, NOT_NEGATIVE]
    to_ambient_k_per_w: Annotated[KelvinPerWatt, POSITIVE] | None = None
    thermistor: Thermistor = Field(description="a table that describes the thermistor")
    divider: Divider = Field(description="a table that describes the divider")
    adc: Adc = Field(description="a table that describes the ADC")
    disturbance: Disturbance = Disturbance()
    tolerance: Tolerance = Tolerance()
    deviation: Deviation = Deviation()
    price: Price | None = None
