"""Thermistor, divider, disturbance, sampling and ADC in one: from a temperature to a code."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.lamp.sensor import Sensor
from derate.sensing import adc, divider, settling, thermistor
from derate.sensing import parts as unit
from derate.sensing.adc import Transfer, convert
from derate.sensing.divider import (
    Bridge,
    input_ratio,
    ohm_at_share,
    share,
    source_ohm,
    thermistor_w,
)
from derate.sensing.ntc import Ntc, celsius_at, ohm_at, resistance_ohm
from derate.sensing.parts import (
    PRINTED,
    Parts,
    bridge_of,
    input_of,
    parts_in,
    thermistor_factor,
    transfer_of,
)
from derate.sensing.settling import Hold, left_over

HEALTHY, OPEN, SHORT = 0, 1, 2
"""State of the thermistor's wires."""


B_FROM_C, B_TO_C = 25.0, 85.0
"""The pair for the B value whose tolerance is stated; B25/85 and B25/100 differ by under 1 %."""


class Spread(NamedTuple):
    """How far the parts may lie off to either side [ratios, drift 1/K, offset LSB].

    ``b_k`` [K]: the B value by which its tolerance counts.
    """

    resistor: float
    drift_per_k: float
    r25: float
    b_value: float
    offset_lsb: float
    gain: float
    b_k: float


EXACT = Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


class Circuit(NamedTuple):
    """A sensor as the compiled kernels take it.

    ``ground_v_per_a`` [V/A] is added at the ADC input and ``supply_v_per_a`` [V/A] taken from the
    supply for each ampere of LED current; ``use`` is the first of its random numbers; ``spread``:
    tolerances of its parts, which all but the fault window leave out; ``parts``: how far those of
    this unit lie off, which counts where codes are made and heat is set free, and nowhere else:
    the firmware's table is printed.
    """

    ntc: Ntc
    bridge: Bridge
    transfer: Transfer
    hold: Hold
    ground_v_per_a: float
    supply_v_per_a: float
    use: int
    spread: Spread = EXACT
    parts: Parts = PRINTED


def from_lamp(sensor: Sensor, *, use: int = 0, where: str = "sensor") -> Circuit:
    """The circuit of a sensor of a lamp file; ``where`` names it in errors."""
    ntc = thermistor.from_lamp(sensor.thermistor, where=f"{where}.thermistor")
    tolerance = sensor.tolerance
    first_ohm, second_ohm = resistance_ohm(ntc, [B_FROM_C, B_TO_C])
    b_k = thermistor.b_value_k(B_FROM_C, float(first_ohm), B_TO_C, float(second_ohm))
    return Circuit(
        ntc,
        divider.from_lamp(sensor.divider),
        adc.from_lamp(sensor.adc),
        settling.from_lamp(sensor.adc.sampling),
        float(sensor.disturbance.ground_v_per_a),
        float(sensor.disturbance.supply_v_per_a),
        use,
        Spread(
            float(tolerance.resistor),
            float(tolerance.resistor_drift_per_k),
            float(tolerance.r25),
            float(tolerance.b_value),
            float(tolerance.offset_lsb),
            float(tolerance.gain),
            b_k,
        ),
        unit.from_lamp(sensor.deviation),
    )


@compiled
def ohm_of(circuit: Circuit, thermistor_c: float, wires: int) -> float:
    """Resistance [ohm] between the thermistor's wires: infinite when open, 0 when shorted."""
    if wires == HEALTHY:
        return ohm_at(circuit.ntc, thermistor_c)
    return math.inf if wires == OPEN else 0.0


@compiled
def ratio_at(circuit: Circuit, thermistor_c: float, current_a: float, wires: int) -> float:
    """Voltage at the ADC input over its reference [-], under an LED current [A]."""
    return input_ratio(
        circuit.bridge,
        share(circuit.bridge, ohm_of(circuit, thermistor_c, wires)),
        circuit.supply_v_per_a * current_a,
        circuit.ground_v_per_a * current_a,
    )


@compiled
def unsettled(circuit: Circuit, ratio: float, thermistor_c: float, wires: int) -> float:
    """Voltage in the sample capacitor over the reference [-], for ``ratio`` at the ADC input."""
    source = source_ohm(circuit.bridge, ohm_of(circuit, thermistor_c, wires))
    return ratio + (circuit.hold.previous - ratio) * left_over(circuit.hold, source)


@compiled
def sampled_ratio(circuit: Circuit, thermistor_c: float, current_a: float, wires: int) -> float:
    """Voltage in the sample capacitor of this unit over the printed reference [-].

    Its resistors are taken to be as warm as its thermistor, at ``thermistor_c`` [degC].
    """
    bridge = bridge_of(circuit.bridge, circuit.parts, thermistor_c)
    ohm = ohm_of(circuit, thermistor_c, wires)
    if wires == HEALTHY:
        ohm *= thermistor_factor(circuit.parts, circuit.spread.b_k, thermistor_c)
    droop_v, ground_v = circuit.supply_v_per_a * current_a, circuit.ground_v_per_a * current_a
    ratio = input_of(bridge, circuit.parts, ohm, droop_v, ground_v)
    if circuit.hold.capacitance_f > 0.0:
        left = left_over(circuit.hold, source_ohm(bridge, ohm))
        ratio += (circuit.hold.previous - ratio) * left
    return ratio


@compiled
def sense(
    circuit: Circuit,
    thermistor_c: float,
    current_a: float,
    wires: int,
    seed: int,
    unit: int,
    tick: int,
) -> int:
    """The code the firmware gets for a thermistor at ``thermistor_c`` [degC]; for kernels."""
    ratio = sampled_ratio(circuit, thermistor_c, current_a, wires)
    return convert(
        transfer_of(circuit.transfer, circuit.parts), ratio, seed, unit, tick, circuit.use
    )


@compiled
def own_heat_w(circuit: Circuit, thermistor_c: float) -> float:
    """Heat [W] set free in the thermistor of this unit, a healthy one.

    A body that its heat warms more than printed is one that more heat warms as printed.
    """
    parts = circuit.parts
    factor = thermistor_factor(parts, circuit.spread.b_k, thermistor_c)
    bridge = bridge_of(circuit.bridge, parts, thermistor_c)
    heat_w = thermistor_w(bridge, ohm_at(circuit.ntc, thermistor_c) * factor)
    return heat_w * parts.heating * (1.0 + parts.supply) ** 2


@compiled
def ideal_lsb(circuit: Circuit, thermistor_c: float) -> float:
    """Input [LSB, not truncated] without disturbance, fully settled, without ADC errors."""
    return ratio_at(circuit, thermistor_c, 0.0, HEALTHY) * circuit.transfer.full_scale


@compiled
def celsius_at_lsb(circuit: Circuit, lsb: float) -> float:
    """Temperature [degC] at an ideal input of ``lsb`` [LSB]: ``ideal_lsb`` inverted.

    The input must lie between those of a shorted and an open thermistor.
    """
    bridge = circuit.bridge
    of_supply = lsb / circuit.transfer.full_scale * bridge.reference_v / bridge.supply_v
    return celsius_at(circuit.ntc, ohm_at_share(bridge, of_supply))


def packed(circuit: Circuit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The circuit as two arrays, which Python hands to compiled code faster than nested tuples."""
    ntc, *parts = circuit[:4]
    return np.array(
        [
            *ntc[:3],
            *(n for part in parts for n in part),
            *circuit[4:7],
            *circuit.spread,
            *circuit.parts,
        ],
        float,
    ), ntc.table


@compiled
def unpacked(n: NDArray[np.float64], table: NDArray[np.float64]) -> Circuit:
    """The circuit of ``packed``."""
    return Circuit(
        Ntc(n[0], n[1], n[2], table),
        Bridge(n[3] != 0.0, n[4] != 0.0, n[5], n[6], n[7], n[8], n[9]),
        Transfer(int(n[10]), n[11], n[12], n[13], n[14], int(n[15]), n[16], n[17] != 0.0),
        Hold(n[18], n[19], n[20], n[21], n[22], n[23]),
        n[24],
        n[25],
        int(n[26]),
        Spread(n[27], n[28], n[29], n[30], n[31], n[32], n[33]),
        parts_in(n[34:]),
    )


@compiled
def sense_packed(
    numbers: NDArray[np.float64],
    table: NDArray[np.float64],
    thermistor_c: float,
    current_a: float,
    wires: int,
    seed: int,
    unit: int,
    tick: int,
) -> int:
    """``sense`` for a packed circuit."""
    return sense(unpacked(numbers, table), thermistor_c, current_a, wires, seed, unit, tick)


@compiled
def heat_packed(
    numbers: NDArray[np.float64], table: NDArray[np.float64], thermistor_c: float
) -> float:
    """``own_heat_w`` for a packed circuit."""
    return own_heat_w(unpacked(numbers, table), thermistor_c)
