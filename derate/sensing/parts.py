"""The parts of one unit of a sensor, off their printed values, and what becomes of them.

A thermistor has R(T) (1 + r25) exp(b_value B (1/T - 1/T25)), its printed curve being R; a fixed
resistor its printed value times (1 + tolerance) (1 + drift (T - 25 degC)).
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.lamp.tolerance import Deviation
from derate.sensing.adc import Transfer
from derate.sensing.divider import Bridge, input_ratio, share
from derate.sensing.ntc import KELVIN_AT_0_C, REFERENCE_C


class Parts(NamedTuple):
    """How far the parts lie off: ratios, but for drifts [1/K] and the offset [LSB].

    ``heating`` is no deviation but a share: of the thermistor's printed rise by its own heat.
    """

    resistor: float
    drift_per_k: float
    series: float
    series_drift_per_k: float
    parallel: float
    parallel_drift_per_k: float
    r25: float
    b_value: float
    supply: float
    reference: float
    heating: float
    offset_lsb: float
    gain: float


PRINTED = Parts(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0)
"""All parts as printed."""


def from_lamp(off: Deviation) -> Parts:
    """The parts of a sensor of a lamp file."""
    return Parts(
        float(off.resistor),
        float(off.resistor_drift_per_k),
        float(off.series),
        float(off.series_drift_per_k),
        float(off.parallel),
        float(off.parallel_drift_per_k),
        float(off.r25),
        float(off.b_value),
        float(off.supply),
        float(off.reference),
        1.0 + float(off.dissipation),
        float(off.offset_lsb),
        float(off.gain),
    )


@compiled
def parts_in(n: NDArray[np.float64]) -> Parts:
    """The parts of a row of numbers, in their order."""
    return Parts(n[0], n[1], n[2], n[3], n[4], n[5], n[6], n[7], n[8], n[9], n[10], n[11], n[12])


@compiled
def thermistor_factor(parts: Parts, b_k: float, celsius: float) -> float:
    """Resistance of the unit's thermistor at ``celsius`` [degC] over the printed one [-].

    ``b_k`` [K]: the printed B value.
    """
    if parts.b_value == 0.0:
        return 1.0 + parts.r25
    span = 1.0 / (celsius + KELVIN_AT_0_C) - 1.0 / (REFERENCE_C + KELVIN_AT_0_C)
    return (1.0 + parts.r25) * math.exp(parts.b_value * b_k * span)


@compiled
def bridge_of(nominal: Bridge, parts: Parts, celsius: float) -> Bridge:
    """The unit's divider, its resistors at ``celsius`` [degC]; supply and reference as printed."""
    warmer_k = celsius - REFERENCE_C
    return Bridge(
        nominal.pull_up,
        nominal.ratiometric,
        nominal.resistor_ohm * (1.0 + parts.resistor) * (1.0 + parts.drift_per_k * warmer_k),
        nominal.supply_v,
        nominal.reference_v,
        nominal.series_ohm * (1.0 + parts.series) * (1.0 + parts.series_drift_per_k * warmer_k),
        nominal.parallel_ohm
        * (1.0 + parts.parallel)
        * (1.0 + parts.parallel_drift_per_k * warmer_k),
    )


@compiled
def input_of(bridge: Bridge, parts: Parts, ohm: float, droop_v: float, ground_v: float) -> float:
    """Voltage at the unit's ADC input over its reference [-], for a thermistor of ``ohm`` [ohm].

    ``bridge``: of ``bridge_of``; ``droop_v``, ``ground_v`` [V]: by the LED current. A supply above
    its printed value is a droop below zero.
    """
    off_v = droop_v - parts.supply * bridge.supply_v
    ratio = input_ratio(bridge, share(bridge, ohm), off_v, ground_v)
    return ratio if bridge.ratiometric else ratio / (1.0 + parts.reference)


@compiled
def transfer_of(nominal: Transfer, parts: Parts) -> Transfer:
    """The unit's ADC."""
    return Transfer(
        nominal.full_scale,
        nominal.offset_lsb + parts.offset_lsb,
        nominal.gain_error + parts.gain,
        nominal.inl_lsb,
        nominal.noise_lsb,
        nominal.oversampling,
        nominal.dnl_lsb,
        nominal.s_shaped,
    )
