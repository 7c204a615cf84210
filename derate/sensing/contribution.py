"""What makes a reading wrong: each cause with its limits, in the unit it is stated in."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.sensor import Sensor
from derate.sensing import deviation as place
from derate.sensing.window import NOISE_SIGMAS

Array = NDArray[np.float64]


class Situation(NamedTuple):
    """What the lamp does while the sensor is read.

    ``current_a`` [A]: whole LED current, which may be there or not; ``ramp_k_per_s`` [K/s]: the
    fastest change of temperature, up or down; ``ambient_c`` [degC]: the air about the thermistor.
    """

    current_a: float = 0.0
    ramp_k_per_s: float = 0.0
    ambient_c: float = 25.0


STEADY = Situation()
"""LEDs off, nothing changing, air of 25 degC."""


class Cause(NamedTuple):
    """One cause: its place in a deviation, its ends in that place's unit, and where it is from."""

    name: str
    place: int
    low: float
    high: float
    why: str


class Contribution(NamedTuple):
    """What one cause does to the reading [K] at each temperature, at its least and its most.

    Reading minus truth: below zero it reads cold. ``why`` says what was taken for its limits.
    """

    name: str
    worst_low_k: Array
    worst_high_k: Array
    why: str

    @property
    def counts(self) -> bool:
        """Whether it does anything at all."""
        return bool(np.any(self.worst_low_k) or np.any(self.worst_high_k))


def situation_of(lamp: Lamp) -> Situation:
    """Every channel of a lamp at full drive, or none; steady, in air of 25 degC."""
    return Situation(current_a=sum(channel.current_a for channel in lamp.channels.values()))


def causes_of(sensor: Sensor, situation: Situation) -> tuple[Cause, ...]:
    """The causes of a sensor whose limits follow from its lamp file, in the order of the chain.

    An ADC error counts to both sides by the size given, since a data sheet states limits.
    """
    return (
        *_of_the_body(sensor, situation),
        *_of_the_divider(sensor),
        Cause("LED current", place.CURRENT, 0.0, 1.0, f"none to {situation.current_a:g} A"),
        *_of_the_adc(sensor),
    )


def _of_the_body(sensor: Sensor, situation: Situation) -> tuple[Cause, ...]:
    parts = sensor.tolerance
    heat = (1.0 - parts.dissipation, 1.0 + parts.dissipation)
    ramp = abs(situation.ramp_k_per_s)
    return (
        _either("R25 tolerance", place.R25, parts.r25, "tolerance.r25"),
        _either("B tolerance", place.B_VALUE, parts.b_value, "tolerance.b_value about 25 degC"),
        Cause("self-heating", place.HEATING, *heat, "divider power over tolerance.dissipation"),
        Cause("leak to ambient", place.LEAK, 1.0, 1.0, f"air at {situation.ambient_c:g} degC"),
        _either("lag", place.RAMP, ramp, "warming reads cold, cooling reads hot"),
    )


def _of_the_divider(sensor: Sensor) -> tuple[Cause, ...]:
    parts, divider = sensor.tolerance, sensor.divider
    resistors = [("resistor", place.RESISTOR, place.DRIFT)]
    if divider.series_ohm:
        resistors.append(("series resistor", place.SERIES, place.SERIES_DRIFT))
    if divider.parallel_ohm is not None:
        resistors.append(("parallel resistor", place.PARALLEL, place.PARALLEL_DRIFT))
    away = "tolerance.resistor_drift away from 25 degC"
    found = []
    for name, at, drift_at in resistors:
        found.append(_either(f"{name} tolerance", at, parts.resistor, "tolerance.resistor"))
        found.append(_either(f"{name} drift", drift_at, parts.resistor_drift_per_k, away))
    ratiometric = divider.reference == "ratiometric"
    size, why = (0.0, "cancels: ratiometric") if ratiometric else (parts.reference, "")
    return (
        *found,
        _either("supply tolerance", place.SUPPLY, parts.supply, "tolerance.supply"),
        _either("reference tolerance", place.REFERENCE, size, why or "tolerance.reference"),
    )


def _of_the_adc(sensor: Sensor) -> tuple[Cause, ...]:
    adc = sensor.adc
    noise_lsb = NOISE_SIGMAS * adc.noise_lsb / math.sqrt(adc.oversampling)
    shape = "an S" if adc.inl_shape == "s" else "a bow, largest at mid-scale"
    noise = "4 sigma of adc.noise over root of oversampling"
    if adc.sampling is None:
        settling = Cause("settling and ghosting", place.SETTLING, 0.0, 0.0, "settles fully")
    else:
        before = f"none to all that the channel before left, {adc.sampling.previous:g} of reference"
        settling = Cause("settling and ghosting", place.SETTLING, 0.0, 1.0, before)
    return (
        settling,
        _either("ADC gain", place.GAIN, abs(adc.gain_error), "adc.gain_error"),
        _either("ADC INL", place.INL, abs(adc.inl_lsb), f"adc.inl as {shape}"),
        _either("ADC offset", place.OFFSET, abs(adc.offset_lsb), "adc.offset"),
        _either("ADC DNL", place.DNL, abs(adc.dnl_lsb), "adc.dnl moves an edge by its size"),
        _either("ADC noise", place.NOISE, noise_lsb, noise),
        _either("quantisation", place.QUANTUM, 0.5, "half a code to either side"),
    )


def _either(name: str, at: int, size: float, why: str) -> Cause:
    return Cause(name, at, -size, size, why)


def ends_of(causes: tuple[Cause, ...]) -> Array:
    """The causes as the kernels take them: least and most of every place, shape (places, 2)."""
    ends = np.zeros((len(place.PLACES), 2))
    for cause in causes:
        ends[cause.place] = cause.low, cause.high
    return ends
