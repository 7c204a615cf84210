"""One sensor of a lamp, from the thermistor's temperature to the firmware's reading."""

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.errors import InputError
from derate.lamp.driver import Driver
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event
from derate.sensing import circuit as circuits
from derate.sensing.adc import truncated
from derate.sensing.circuit import (
    HEALTHY,
    OPEN,
    SHORT,
    heat_packed,
    ideal_lsb,
    packed,
    sense_packed,
)
from derate.sensing.lookup import CENTI, MAX_ERROR_K, Lookup, build, reading_at, wires_at
from derate.sensing.thermistor import warnings as thermistor_warnings
from derate.sensing.window import disturbed

USES_PER_SENSOR = 1 << 16
"""Random numbers set aside for each sensor, one per conversion of an oversampled code."""
SAME_PHASE = 1e-6
"""Share of a PWM period below which two instants are one: rounding of times, not physics."""
PHASES = {"free": math.nan, "on": 0.0, "off": math.nextafter(1.0, 0.0)}
"""Phase at which a sample is taken, nan for the real one."""
SWITCHED, DIMMED, STRING = range(3)
"""The LED current: switched by PWM, dimmed, or that of one string with bypass switches."""

Numbers = Sequence[float] | NDArray[np.float64]


class Chain:
    """The chain of ``sensor``: ``circuit`` for kernels, ``lookup`` for the firmware.

    ``warnings``: sentences about what works but should be looked at. Raises InputError when no
    table or fault window can be made; ``max_error_k`` [K] bounds the error of the table.
    """

    def __init__(self, lamp: Lamp, sensor: str, *, max_error_k: float = MAX_ERROR_K) -> None:
        self.name = sensor
        self.sensor = lamp.toleranced(sensor)
        self.range_c = self.sensor.thermistor.range_c
        index = list(lamp.sensors).index(sensor)
        where = f"sensors.{sensor}"
        full_a = sum(channel.current_a for channel in lamp.channels.values())
        use = USES_PER_SENSOR * (1 + index)
        self.circuit = circuits.from_lamp(self.sensor, use=use, where=where)
        self._packed = packed(self.circuit)
        if self.circuit.supply_v_per_a * full_a >= self.circuit.bridge.supply_v:
            raise InputError(
                f"{where}.disturbance.supply_v_per_a: {self.circuit.supply_v_per_a:g} V/A times"
                f" {full_a:g} A takes away the supply; less than {self.circuit.bridge.supply_v:g} V"
                " is due"
            )
        self.lookup: Lookup = build(
            self.circuit, self.range_c, max_error_k=max_error_k, where=where
        )
        self.warnings = tuple(f"{where}: {text}" for text in self._doubts(full_a))

    def sense(
        self,
        thermistor_c: float,
        disturbance_current_a: float = 0.0,
        *,
        seed: int = 0,
        unit: int = 0,
        tick: int = 0,
        fault: Event | None = None,
        held_code: int | None = None,
    ) -> int:
        """The code for a thermistor at ``thermistor_c`` [degC] under an LED current [A].

        ``fault``: a sensor event of a profile; "sensor stuck" returns ``held_code``, the code
        before it stuck, which then is due.
        """
        wires = HEALTHY
        if fault is not None:
            if fault.kind == "sensor stuck":
                if held_code is None:
                    raise ValueError("a stuck sensor needs the code it is stuck at: held_code")
                return int(held_code)
            if fault.kind == "sensor offset":
                thermistor_c += fault.offset_k or 0.0
            else:
                wires = OPEN if fault.kind == "sensor open" else SHORT
        numbers, table = self._packed
        return sense_packed(
            numbers, table, thermistor_c, disturbance_current_a, wires, seed, unit, tick
        )

    def ideal_code(self, thermistor_c: float) -> int:
        """The code of the chain without errors, noise and disturbance."""
        return truncated(self.circuit.transfer, ideal_lsb(self.circuit, thermistor_c))

    def self_heat_w(self, thermistor_c: float) -> float:
        """Heat [W] that the divider's current sets free in the thermistor."""
        return heat_packed(*self._packed, thermistor_c)

    def reading_c(self, code: int) -> float:
        """The firmware's reading [degC] of a code, NaN inside a fault window."""
        window = self.lookup.window
        if wires_at(window.low_code, window.high_code, window.open_is_high, code) != HEALTHY:
            return math.nan
        return reading_at(self.lookup.knots, self.lookup.centi_c, code) / CENTI

    def _doubts(self, full_a: float) -> list[str]:
        found = disturbed(self.circuit, self.lookup.window, self.range_c, full_a)
        return found + [
            f"thermistor: {text}" for text in thermistor_warnings(self.sensor.thermistor)
        ]


def chains_of(lamp: Lamp) -> tuple[Chain, ...]:
    """The chains of a lamp's sensors, in order."""
    return tuple(Chain(lamp, sensor) for sensor in lamp.sensors)


def current_at_sample(
    driver: Driver,
    on_current_a: Sequence[float],
    duties: Sequence[float],
    time_s: float,
    sampling: Literal["free", "on", "off"] = "free",
) -> float:
    """Total LED current [A] at the instant ``time_s`` [s] of an ADC sample.

    ``on_current_a`` [A]: of each channel at full drive; ``duties`` [0..1]. Under PWM every channel
    switches on at the start of a period, and "free" takes the real phase, "on" an instant at which
    every driven channel is on, "off" one at which only channels at full duty are. Dimmed by
    current, the current is steady and ``sampling`` does not matter; so it is in a string with
    bypass switches, which carries its current whichever channels are lit.
    """
    phase = PHASES[sampling]
    if sampling == "free":
        phase = pwm_phase(driver, time_s)
    return float(led_current_a.py_func(drive_of(driver), on_current_a, duties, phase))


def pwm_phase(driver: Driver, time_s: float) -> float:
    """Share of a PWM period [0..1) since the last one began, at the instant ``time_s`` [s]."""
    return float(pwm_phases(driver, np.array(time_s)))


def pwm_phases(driver: Driver, time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same of many instants [s]."""
    periods = time_s * driver.frequency_hz
    phases: NDArray[np.float64] = np.maximum(0.0, periods - np.floor(periods + SAME_PHASE))
    return phases


def drive_of(driver: Driver) -> int:
    """How the LED current comes about, as ``led_current_a`` takes it."""
    if driver.bypass is not None:
        return STRING
    return DIMMED if driver.dimming == "current" else SWITCHED


@compiled
def led_current_a(drive: int, on_current_a: Numbers, duties: Numbers, phase: float) -> float:
    """Total LED current [A] at a ``phase`` of the PWM period [0..1); for kernels."""
    total_a, largest_a, lit = 0.0, 0.0, False
    for c in range(len(duties)):
        if drive == DIMMED:
            total_a += duties[c] * on_current_a[c]
        elif phase < duties[c]:
            total_a += on_current_a[c]
        largest_a, lit = max(largest_a, on_current_a[c]), lit or duties[c] > 0.0
    if drive == STRING:
        return largest_a if lit else 0.0
    return total_a
