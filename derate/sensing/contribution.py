"""What makes a reading wrong: each cause with its limits, in the unit it is stated in."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.sensor import Sensor
from derate.sensing import deviation as place
from derate.sensing.window import NOISE_SIGMAS

Array = NDArray[np.float64]


ABSOLUTE_ZERO_C = -273.15


class Situation(NamedTuple):
    """What the lamp does while the sensor is read.

    ``current_a`` [A]: whole LED current, which may be there or not; ``ramp_k_per_s`` [K/s]: the
    fastest change of temperature, up or down; ``ambient_c`` [degC]: coldest and warmest air about
    the thermistor.
    """

    current_a: float = 0.0
    ramp_k_per_s: float = 0.0
    ambient_c: tuple[float, float] = (25.0, 25.0)


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
    """Every channel of a lamp at full drive, or none; steady, in all air that its profiles name.

    The air is that of the first ambient, into which sensors leak; 25 degC without profiles.
    """
    ambient = lamp.ambients[0]
    found_c = [
        float(celsius)
        for profile in lamp.profiles.values()
        for celsius in profile.ambient_courses([ambient])[ambient].knots
    ]
    air_c = (min(found_c), max(found_c)) if found_c else STEADY.ambient_c
    full_a = sum(channel.current_a for channel in lamp.channels.values())
    return Situation(current_a=full_a, ambient_c=air_c)


def situated(
    situation: Situation,
    *,
    ambient_c: tuple[float, float] | None = None,
    ramp_k_per_s: float | None = None,
) -> Situation:
    """A situation in other air [degC], or with another ramp [K/s]; None leaves it as it is."""
    if ambient_c is not None:
        low_c, high_c = ambient_c
        if not ABSOLUTE_ZERO_C <= low_c <= high_c < math.inf:
            raise InputError(
                f"ambient: found {low_c:g} to {high_c:g} degC, due two temperatures, the colder"
                " first"
            )
        situation = situation._replace(ambient_c=(low_c, high_c))
    if ramp_k_per_s is not None:
        if not 0.0 <= ramp_k_per_s < math.inf:
            raise InputError(f"ramp: found {ramp_k_per_s:g} K/s, due a ramp of 0 K/s or more")
        situation = situation._replace(ramp_k_per_s=ramp_k_per_s)
    return situation


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
        _leak(sensor, situation),
        _either("lag", place.RAMP, ramp, "warming reads cold, cooling reads hot"),
    )


def _leak(sensor: Sensor, situation: Situation) -> Cause:
    low_c, high_c = situation.ambient_c
    air = air_words(situation)
    varies = high_c > low_c and sensor.to_ambient_k_per_w is not None
    return Cause("leak to ambient", place.LEAK, 1.0, 2.0 if varies else 1.0, air)


def air_words(situation: Situation) -> str:
    """The air of a situation: "air from 10 to 40 degC"."""
    low_c, high_c = situation.ambient_c
    return f"air of {low_c:g} degC" if low_c == high_c else f"air from {low_c:g} to {high_c:g} degC"


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
    adc, parts = sensor.adc, sensor.tolerance
    gain, offset_lsb = abs(adc.gain_error) + parts.gain, abs(adc.offset_lsb) + parts.offset_lsb
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
        _either("ADC gain", place.GAIN, gain, "adc.gain_error and tolerance.gain"),
        _either("ADC INL", place.INL, abs(adc.inl_lsb), f"adc.inl as {shape}"),
        _either("ADC offset", place.OFFSET, offset_lsb, "adc.offset and tolerance.offset"),
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
