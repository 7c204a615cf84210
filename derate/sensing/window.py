"""Which codes are a fault: the windows for an open and a shorted thermistor.

The extreme code of a healthy thermistor in its working range, and the code nearest to it that a
broken one gives, are taken with every ADC error at its worst sign, the noise at 4 sigma, the
channel converted before at the worst rail, and resistors and thermistor anywhere within their
tolerances. The edge of the window lies halfway between the two. A
resistor across the thermistor, or in series, is all that is left of it when it is open, or
shorted. A disturbance by the LED current is not in the edges; ``disturbed`` says when it carries a
code across one.
"""

import math
from typing import NamedTuple

from derate.errors import InputError
from derate.sensing.adc import bent, coded, truncated
from derate.sensing.circuit import (
    HEALTHY,
    OPEN,
    SHORT,
    Circuit,
    celsius_at_lsb,
    ratio_at,
    unsettled,
)
from derate.sensing.spread import extreme_ratio

NOISE_SIGMAS = 4.0
LEAST_ROOM = 4
"""Codes between a healthy and a broken thermistor: two on either side of the edge.

Common practice.
"""


class Window(NamedTuple):
    """Codes up to ``low_code`` and from ``high_code`` on are faults; between them lie readings.

    ``open_margin_codes`` and ``short_margin_codes``: from the extreme healthy code to the edge.
    ``open_fires_c`` and ``short_fires_c``: temperature [degC] at which an ideal chain would reach
    the edge, NaN where no temperature does.
    """

    low_code: int
    high_code: int
    open_is_high: bool
    open_margin_codes: int
    short_margin_codes: int
    open_fires_c: float
    short_fires_c: float

    @property
    def open_code(self) -> int:
        """First code of the window for an open thermistor."""
        return self.high_code if self.open_is_high else self.low_code

    @property
    def short_code(self) -> int:
        """First code of the window for a shorted thermistor."""
        return self.low_code if self.open_is_high else self.high_code


def fault_window(circuit: Circuit, range_c: tuple[float, ...], *, where: str = "sensor") -> Window:
    """The windows of a circuit for a working range [degC]; InputError when no room is left."""
    low_c, high_c = range_c
    pull_up = circuit.bridge.pull_up
    ends_c = (low_c, high_c) if pull_up else (high_c, low_c)
    top = _Side(circuit, ends_c, OPEN if pull_up else SHORT, -1)
    bottom = _Side(circuit, ends_c[::-1], SHORT if pull_up else OPEN, 1)
    for side in (top, bottom):
        if side.room < LEAST_ROOM:
            raise InputError(_no_room(side, circuit, where))
    high_code = (top.healthy + top.broken + 1) // 2
    low_code = (bottom.healthy + bottom.broken) // 2
    margins = high_code - top.healthy, bottom.healthy - low_code
    fires = _celsius(circuit, high_code), _celsius(circuit, low_code + 1)
    first, second = (0, 1) if pull_up else (1, 0)
    return Window(
        low_code, high_code, pull_up, margins[first], margins[second], fires[first], fires[second]
    )


def disturbed(
    circuit: Circuit, window: Window, range_c: tuple[float, ...], current_a: float
) -> list[str]:
    """Sentences on codes that an LED current of ``current_a`` [A] carries across an edge."""
    found = []
    for celsius in range_c:
        code = _code(circuit, celsius, HEALTHY, current_a)
        if not window.low_code < code < window.high_code:
            found.append(
                f"at {current_a:g} A of LED current a healthy thermistor at {celsius:g} degC gives"
                f" code {code}, which is taken for a fault"
            )
    for wires, name in ((OPEN, "open"), (SHORT, "shorted")):
        code = _code(circuit, 0.0, wires, current_a)
        if window.low_code < code < window.high_code:
            found.append(
                f"at {current_a:g} A of LED current a thermistor that is {name} gives code {code},"
                " which is taken for a temperature"
            )
    return found


class _Side:
    """One end of the code range: the extreme healthy code, and the nearest broken one.

    ``ends_c`` [degC]: of the working range, that of this side first. ``inward`` is the sign that
    leads from this end to mid-scale: -1 at the top, 1 at the bottom.
    """

    def __init__(
        self, circuit: Circuit, ends_c: tuple[float, float], broken: int, inward: int
    ) -> None:
        self.extreme_c, self.wires = ends_c[0], broken
        self.healthy = _worst(circuit, self.extreme_c, HEALTHY, -inward)
        broken_at = [inward * _worst(circuit, celsius, broken, inward) for celsius in ends_c]
        self.broken = inward * max(broken_at)
        self.room = (self.healthy - self.broken) * inward


def _worst(circuit: Circuit, celsius: float, wires: int, sign: int) -> int:
    """The code with every part and every error of sampling and ADC pulling towards ``sign``."""
    transfer = circuit.transfer
    rail = circuit._replace(hold=circuit.hold._replace(previous=1.0 if sign > 0 else 0.0))
    ratio = extreme_ratio(rail, celsius, wires, sign)
    worst = transfer._replace(
        offset_lsb=sign * (abs(transfer.offset_lsb) + circuit.spread.offset_lsb),
        gain_error=sign * (abs(transfer.gain_error) + circuit.spread.gain),
        inl_lsb=sign * abs(transfer.inl_lsb) * (-1 if transfer.s_shaped and ratio > 0.5 else 1),
    )
    noise_lsb = NOISE_SIGMAS * transfer.noise_lsb / math.sqrt(transfer.oversampling)
    added_lsb = sign * (noise_lsb + abs(transfer.dnl_lsb))
    return int(truncated(worst, bent(worst, ratio) + added_lsb))


def _code(circuit: Circuit, celsius: float, wires: int, current_a: float) -> int:
    ratio = unsettled(circuit, ratio_at(circuit, celsius, current_a, wires), celsius, wires)
    return int(coded(circuit.transfer, bent(circuit.transfer, ratio)))


def _celsius(circuit: Circuit, lsb: int) -> float:
    """Temperature [degC] at an ideal input of ``lsb``, NaN beyond what a thermistor reaches."""
    ends = [ratio_at(circuit, 0.0, 0.0, wires) for wires in (OPEN, SHORT)]
    reached = min(ends) < lsb / circuit.transfer.full_scale < max(ends)
    return float(celsius_at_lsb(circuit, float(lsb))) if reached else math.nan


def _no_room(side: _Side, circuit: Circuit, where: str) -> str:
    name = "an open" if side.wires == OPEN else "a shorted"
    room = max(side.room, 0)
    return (
        f"{where}: with the worst ADC errors{_and_parts(circuit)} a healthy thermistor gives code"
        f" {side.healthy} of {circuit.transfer.full_scale} at {side.extreme_c:g} degC and"
        f" {name} one code {side.broken}, which leaves {room} code{'s' * (room != 1)} to tell them"
        f" apart; at least {LEAST_ROOM} are due, from another divider.resistor,"
        f" {_extra(side, circuit)}more bits or a narrower thermistor.range"
    )


def _and_parts(circuit: Circuit) -> str:
    return " and parts within their tolerances" if any(circuit.spread[:-1]) else ""


def _extra(side: _Side, circuit: Circuit) -> str:
    """What else would help, where a reference, a resistor or a hasty sample hides this fault."""
    found = ""
    top = side.healthy >= circuit.transfer.full_scale // 2
    if top and not circuit.bridge.ratiometric:
        found += f"a divider.reference nearer to the supply of {circuit.bridge.supply_v:g} V, "
    if side.wires == OPEN and circuit.bridge.parallel_ohm < math.inf:
        found += "a larger or no divider.parallel, "
    if side.wires == SHORT and circuit.bridge.series_ohm > 0.0:
        found += "a smaller or no divider.series, "
    if any(circuit.spread[:-1]):
        found += "closer tolerances, "
    if circuit.hold.capacitance_f > 0.0:
        found += "a longer adc.sampling.time, "
    return found
