"""How far parts within their tolerances carry the voltage at the ADC."""

import math

from derate.compiled import compiled
from derate.sensing.circuit import Circuit, ohm_of
from derate.sensing.divider import Bridge, input_ratio, share, source_ohm
from derate.sensing.ntc import KELVIN_AT_0_C, REFERENCE_C
from derate.sensing.settling import left_over

CORNERS = 16
"""Combinations of the limits of three resistors and the thermistor."""


@compiled
def extreme_ratio(circuit: Circuit, celsius: float, wires: int, sign: int) -> float:
    """Most (``sign`` 1) or least (-1) voltage in the sample over the reference [-] of any unit.

    All resistors and the thermistor are at ``celsius`` [degC], or its ``wires`` broken.
    """
    nominal, spread = circuit.bridge, circuit.spread
    drift = spread.drift_per_k * abs(celsius - REFERENCE_C)
    resistor = ((1.0 - spread.resistor) * (1.0 - drift), (1.0 + spread.resistor) * (1.0 + drift))
    inverse = 1.0 / (celsius + KELVIN_AT_0_C) - 1.0 / (REFERENCE_C + KELVIN_AT_0_C)
    steeper = math.exp(spread.b_value * spread.b_k * abs(inverse))
    thermistor = ((1.0 - spread.r25) / steeper, (1.0 + spread.r25) * steeper)
    found = -math.inf
    for corner in range(CORNERS):
        bridge = Bridge(
            nominal.pull_up,
            nominal.ratiometric,
            nominal.resistor_ohm * resistor[corner & 1],
            nominal.supply_v,
            nominal.reference_v,
            nominal.series_ohm * resistor[(corner >> 1) & 1],
            nominal.parallel_ohm * resistor[(corner >> 2) & 1],
        )
        ohm = ohm_of(circuit, celsius, wires) * thermistor[(corner >> 3) & 1]
        ratio = input_ratio(bridge, share(bridge, ohm), 0.0, 0.0)
        left = left_over(circuit.hold, source_ohm(bridge, ohm))
        found = max(found, sign * (ratio + left * (circuit.hold.previous - ratio)))
    return sign * found
