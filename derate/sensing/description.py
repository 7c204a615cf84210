"""What a sensor, its table and its fault windows are, in sentences for people."""

import math
from typing import TYPE_CHECKING

import numpy as np

from derate.lamp.sensor import Sensor
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import Situation, air_words
from derate.sensing.ntc import REFERENCE_C, resistance_ohm
from derate.sensing.thermistor import fit_of
from derate.sensing.window import Window

if TYPE_CHECKING:
    from derate.sensing.tables import ReadingTable
    from derate.sensing.threshold import Threshold

MODEL_NAMES = {
    "b-value": "B value",
    "steinhart-hart": "Steinhart-Hart",
    "polynomial": "four terms",
    "table": "monotone curve",
}
EXACT_K = 0.0005
"""A curve this near to every point goes through them, as far as three figures of kelvin tell."""


def ohm_words(ohm: float) -> str:
    """A resistance [ohm] as an engineer says it: "4.7 kohm"."""
    for factor, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if ohm >= factor:
            return f"{ohm / factor:.4g} {unit}"
    return f"{ohm:.4g} ohm"


def fit_words(sensor: Sensor) -> str:
    """How well the curve meets the points or table it was made from; empty where it has none."""
    made = fit_of(sensor.thermistor)
    if made is None:
        return ""
    name, count = MODEL_NAMES[made.model], len(made.celsius)
    worst = int(np.argmax(np.abs(made.residual_k)))
    size_k = abs(float(made.residual_k[worst]))
    if size_k < EXACT_K:
        return f"{name} through {count} points"
    place = f"{made.celsius[worst]:g} degC"
    return f"{name} from {count} points, at most {size_k:.3f} K off, at {place} ({made.why})"


def chain_words(sensor: Sensor, circuit: Circuit) -> str:
    """Thermistor, divider and ADC in one line."""
    divider, adc = sensor.divider, sensor.adc
    r25_ohm = float(resistance_ohm(circuit.ntc, [REFERENCE_C])[0])
    parts = [
        f"{ohm_words(r25_ohm)} at 25 degC ({_described(sensor)})",
        f"{divider.arrangement} {ohm_words(divider.resistor_ohm)}",
    ]
    if divider.parallel_ohm is not None:
        parts.append(f"{ohm_words(divider.parallel_ohm)} across")
    if divider.series_ohm:
        parts.append(f"{ohm_words(divider.series_ohm)} in series")
    ratiometric = divider.reference == "ratiometric"
    parts.append("ratiometric" if ratiometric else f"reference {divider.reference:g} V")
    return ", ".join((*parts, f"{adc.bits} bit"))


def table_words(table: "ReadingTable") -> str:
    """Kind and size of a table, and whether a smaller one could do."""
    direct = table.kind == "direct"
    pieces = _plural(table.segments, "value" if direct else "segment")
    return (
        f"{table.kind}, {pieces}, {table.bytes} bytes, at most {table.operations} steps of"
        f" arithmetic{_minimal(table)}"
    )


def window_words(window: Window) -> tuple[str, str]:
    """The window for an open and that for a shorted thermistor: codes, and where it fires."""
    upward, downward = f"codes from {window.high_code} on", f"codes up to {window.low_code}"
    opened, shorted = (upward, downward) if window.open_is_high else (downward, upward)
    return (
        f"{opened}, {_fires('below', window.open_fires_c)}, {window.open_margin_codes} codes"
        " beyond the coldest healthy one",
        f"{shorted}, {_fires('above', window.short_fires_c)}, {window.short_margin_codes} codes"
        " beyond the hottest healthy one",
    )


def threshold_words(limit: "Threshold") -> str:
    """The comparison for a threshold, and where units trip."""
    return (
        f"{limit.celsius:g} degC: too hot when code {limit.direction} {limit.code} (ideally"
        f" {limit.ideal_c:.2f} degC), or {open_words(limit)}; {trip_words(limit)}"
    )


def open_words(limit: "Threshold") -> str:
    """The code from which an open thermistor, which looks cold, is to count as too hot."""
    return f"code {limit.open_direction} {limit.open_code} (open)"


def situation_words(situation: Situation) -> str:
    """Air, LED current and ramp that the errors of a study hold for."""
    full_a, ramp = situation.current_a, situation.ramp_k_per_s
    current = f"full LED current of {full_a:g} A" if full_a else "LEDs off"
    return f"{air_words(situation)}, {current}, {f'ramp {ramp:g} K/s' if ramp else 'no ramp'}"


def trip_words(limit: "Threshold") -> str:
    """Between which temperatures units within their tolerances trip."""
    if not math.isfinite(limit.high_c):
        return "some units within their tolerances never trip"
    if not math.isfinite(limit.low_c):
        return f"units trip at any temperature up to {limit.high_c:.1f} degC"
    return f"units trip between {limit.low_c:.1f} and {limit.high_c:.1f} degC"


def _described(sensor: Sensor) -> str:
    part = sensor.thermistor
    if part.b_value_k is not None:
        return f"B {part.b_value_k:g} K"
    if part.table is not None:
        return f"table of {len(part.table)} rows"
    return "three points" if part.points is not None else "Steinhart-Hart"


def _minimal(table: "ReadingTable") -> str:
    if table.lower_bound is None:
        return ""
    if table.lower_bound >= table.segments:
        return "; fewer segments cannot do it (proved)"
    return f"; fewer than {_plural(table.lower_bound, 'segment')} cannot do it (proved)"


def _fires(side: str, celsius: float) -> str:
    return f"fires {side} {celsius:.0f} degC" if math.isfinite(celsius) else "fires never"


def _plural(count: int, what: str) -> str:
    return f"{count} {what}{'s' * (count != 1)}"
