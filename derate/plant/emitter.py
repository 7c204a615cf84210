"""One emitter: forward voltage and fluxes against current and junction temperature.

    V(I, T)   = V(I, T_ref) + slope (T - T_ref)
    flux(I, T) = flux(I, T_ref) * ratio(T)
    heat      = V I - radiant flux

V(I, T_ref) follows ln I (a diode's voltage is nearly a straight line there): below the first
point its slope in ln I goes on, above the last it rises in proportion to I. The fluxes start at
(0, 0). The ratio is 1 at the reference temperature and never below 0. A constant slope of the
voltage and a flux ratio that does not depend on the current are good to a few percent within the
data sheet's temperatures; leaving the tables is reported as a warning.
"""

import math

import numpy as np
from numpy.typing import NDArray

from derate.lamp.emitter import Emitter
from derate.plant.curve import (
    ANCHOR,
    C0,
    C1,
    C2,
    C3,
    MOST_HALVINGS,
    START,
    is_last,
    padded,
    piece,
    table_of,
    value,
)
from derate.plant.kernel import kernel

Array = NDArray[np.float64]

VOLTAGE, RADIANT, LUMINOUS, RADIANT_RATIO, LUMINOUS_RATIO = range(5)
"""The curves of an emitter, in this order."""


def curves_of(emitter: Emitter) -> list[Array]:
    """Tables of the five curves of one emitter."""
    current_a = np.array(emitter.current_a)
    from_zero_a = np.concatenate(([0.0], current_a))
    junction_c = np.array(emitter.junction_c)
    return [
        table_of(np.log(current_a), np.array(emitter.forward_voltage_v)),
        table_of(from_zero_a, np.array((0.0, *emitter.radiant_flux_w))),
        table_of(from_zero_a, np.array((0.0, *emitter.luminous_flux_lm))),
        table_of(junction_c, np.array(emitter.radiant_ratio)),
        table_of(junction_c, np.array(emitter.luminous_ratio)),
    ]


def stacked(emitters: list[Emitter]) -> Array:
    """All curves of all emitters as one array [emitter, curve, piece, column]."""
    tables = [curves_of(emitter) for emitter in emitters]
    pieces = max((len(table) for five in tables for table in five), default=1)
    return np.array([[padded(table, pieces) for table in five] for five in tables])


def real_factor(emitter: Emitter) -> float:
    """Resistance per watt of heat flow over the resistance that the lamp file gives [-].

    A resistance per watt of electrical power understates it by the light that leaves:

        R_real = R_el V I / (V I - radiant flux)

    at ``resistance_current_a`` and the reference junction temperature.
    """
    if emitter.resistance_convention == "real":
        return 1.0
    assert emitter.resistance_current_a is not None  # promised by the lamp file's validation
    voltage, radiant = curves_of(emitter)[:2]
    current_a = emitter.resistance_current_a
    electrical_w = voltage_v(voltage, math.log(current_a)) * current_a
    radiant_w = value(radiant, current_a)
    return electrical_w / (electrical_w - radiant_w)


def real_resistance_k_per_w(emitter: Emitter) -> float:
    """Junction to solder resistance per watt of heat flow [K/W], without the solder joint."""
    if emitter.ladder is not None:
        return real_factor(emitter) * emitter.ladder.total_k_per_w
    return real_factor(emitter) * (emitter.junction_to_solder_resistance_k_per_w or 0.0)


@kernel
def voltage_v(table: Array, ln_current: float) -> float:
    """Forward voltage [V] at the reference temperature, ``ln_current`` = ln(I / 1 A)."""
    i = piece(table, ln_current)
    d = ln_current - table[i, ANCHOR]
    if is_last(table, i):
        d = math.expm1(d)
    return ((table[i, C3] * d + table[i, C2]) * d + table[i, C1]) * d + table[i, C0]


@kernel
def voltage_slope_v(table: Array, ln_current: float) -> float:
    """dV / d ln I [V] at the reference temperature."""
    i = piece(table, ln_current)
    d = ln_current - table[i, ANCHOR]
    if is_last(table, i):
        return table[i, C1] * math.exp(d)
    return (3.0 * table[i, C3] * d + 2.0 * table[i, C2]) * d + table[i, C1]


@kernel
def ln_current_at(table: Array, voltage: float) -> float:
    """The inverse of ``voltage_v``: ln(I / 1 A) at a forward voltage [V].

    Newton's method inside the piece that holds the voltage, halving the bracket where it leaves
    it.
    """
    i = 0
    while i + 1 < table.shape[0] and voltage >= table[i + 1, C0] and table[i + 1, START] < np.inf:
        i += 1
    if i == 0:
        return table[0, ANCHOR] + (voltage - table[0, C0]) / table[0, C1]
    if is_last(table, i):
        return table[i, ANCHOR] + math.log1p((voltage - table[i, C0]) / table[i, C1])
    low, high = 0.0, table[i + 1, ANCHOR] - table[i, ANCHOR]
    d = high * (voltage - table[i, C0]) / (table[i + 1, C0] - table[i, C0])
    for _ in range(MOST_HALVINGS):
        miss = ((table[i, C3] * d + table[i, C2]) * d + table[i, C1]) * d + table[i, C0] - voltage
        if miss > 0.0:
            high = d
        else:
            low = d
        slope = (3.0 * table[i, C3] * d + 2.0 * table[i, C2]) * d + table[i, C1]
        step = -miss / slope if slope > 0.0 else np.inf
        if not low <= d + step <= high:
            step = 0.5 * (low + high) - d
        d += step
        if abs(step) <= 1e-15:
            break
    return table[i, ANCHOR] + d
