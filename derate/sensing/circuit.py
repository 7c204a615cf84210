"""Thermistor, divider, disturbance and ADC in one: from a temperature to a code."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.lamp.sensor import Sensor
from derate.sensing import adc, divider, thermistor
from derate.sensing.adc import Transfer, convert
from derate.sensing.divider import Bridge, input_ratio, ohm_at_share, share, thermistor_w
from derate.sensing.ntc import Ntc, celsius_at, ohm_at

HEALTHY, OPEN, SHORT = 0, 1, 2
"""State of the thermistor's wires."""


class Circuit(NamedTuple):
    """A sensor as the compiled kernels take it.

    ``ground_v_per_a`` [V/A] is added at the ADC input and ``supply_v_per_a`` [V/A] taken from the
    supply for each ampere of LED current; ``use`` is the first of its random numbers.
    """

    ntc: Ntc
    bridge: Bridge
    transfer: Transfer
    ground_v_per_a: float
    supply_v_per_a: float
    use: int


def from_lamp(sensor: Sensor, *, use: int = 0, where: str = "sensor") -> Circuit:
    """The circuit of a sensor of a lamp file; ``where`` names it in errors."""
    return Circuit(
        thermistor.from_lamp(sensor.thermistor, where=f"{where}.thermistor"),
        divider.from_lamp(sensor.divider),
        adc.from_lamp(sensor.adc),
        float(sensor.disturbance.ground_v_per_a),
        float(sensor.disturbance.supply_v_per_a),
        use,
    )


@compiled
def supply_share(circuit: Circuit, thermistor_c: float, wires: int) -> float:
    """Share [0..1] of the supply at the ADC input, for healthy, open or shorted wires."""
    if wires == HEALTHY:
        return share(circuit.bridge, ohm_at(circuit.ntc, thermistor_c))
    return 1.0 if (wires == OPEN) == circuit.bridge.pull_up else 0.0


@compiled
def ratio_at(circuit: Circuit, thermistor_c: float, current_a: float, wires: int) -> float:
    """Voltage at the ADC input over its reference [-], under an LED current [A]."""
    return input_ratio(
        circuit.bridge,
        supply_share(circuit, thermistor_c, wires),
        circuit.supply_v_per_a * current_a,
        circuit.ground_v_per_a * current_a,
    )


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
    ratio = ratio_at(circuit, thermistor_c, current_a, wires)
    return convert(circuit.transfer, ratio, seed, unit, tick, circuit.use)


@compiled
def ideal_lsb(circuit: Circuit, thermistor_c: float) -> float:
    """Input [LSB, not truncated] without disturbance and ADC errors."""
    return ratio_at(circuit, thermistor_c, 0.0, HEALTHY) * circuit.transfer.full_scale


@compiled
def celsius_at_lsb(circuit: Circuit, lsb: float) -> float:
    """Temperature [degC] at an ideal input of ``lsb`` [LSB]: ``ideal_lsb`` inverted."""
    bridge = circuit.bridge
    of_supply = lsb / circuit.transfer.full_scale * bridge.reference_v / bridge.supply_v
    return celsius_at(circuit.ntc, ohm_at_share(bridge, of_supply))


def packed(circuit: Circuit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The circuit as two arrays, which Python hands to compiled code faster than nested tuples."""
    ntc, bridge, transfer = circuit[:3]
    return np.array([*ntc[:3], *bridge, *transfer, *circuit[3:]], float), ntc.table


@compiled
def unpacked(n: NDArray[np.float64], table: NDArray[np.float64]) -> Circuit:
    """The circuit of ``packed``."""
    return Circuit(
        Ntc(n[0], n[1], n[2], table),
        Bridge(n[3] != 0.0, n[4] != 0.0, n[5], n[6], n[7]),
        Transfer(int(n[8]), n[9], n[10], n[11], n[12], int(n[13])),
        n[14],
        n[15],
        int(n[16]),
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
    """Heat [W] in a healthy thermistor, for a packed circuit."""
    circuit = unpacked(numbers, table)
    return thermistor_w(circuit.bridge, ohm_at(circuit.ntc, thermistor_c))
