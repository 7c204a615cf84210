"""The chain of one real unit, whose parts lie off their printed values, at one moment.

A deviation is a row of numbers, one for each place below; a row of zeros is the ideal chain.
The thermistor's body, at a temperature T of the place it is mounted on and ambient Ta:

    body = T - s (T - Ta) - ramp (1 - s) tau + heating R P(body)

R: from the body to all around it; s: share of the ambient in that; tau: lag. ``parts`` says what
parts off their printed values make of the resistance of the body, and of resistors at T.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.sensing.adc import Transfer, bent
from derate.sensing.circuit import OPEN, SHORT, Circuit, celsius_at_lsb, ratio_at
from derate.sensing.divider import source_ohm, thermistor_w
from derate.sensing.ntc import ohm_at
from derate.sensing.parts import Parts, bridge_of, input_of, thermistor_factor
from derate.sensing.settling import left_over

Array = NDArray[np.float64]

PLACES = (
    "resistor", "drift", "series", "series_drift", "parallel", "parallel_drift", "r25", "b_value",
    "supply", "reference", "heating", "leak", "ramp", "current", "settling", "gain", "inl",
    "offset", "dnl", "noise", "quantum",
)  # fmt: skip
"""Ratios, but for drifts [1/K], heating, current, settling [share of the whole], ramp [K/s], inl,
offset, dnl, noise, quantum [LSB], and leak: 0 none, 1 into the coldest air, 2 into the warmest."""
(
    RESISTOR, DRIFT, SERIES, SERIES_DRIFT, PARALLEL, PARALLEL_DRIFT, R25, B_VALUE,
    SUPPLY, REFERENCE, HEATING, LEAK, RAMP, CURRENT, SETTLING, GAIN, INL,
    OFFSET, DNL, NOISE, QUANTUM,
) = range(len(PLACES))  # fmt: skip
ADDED = (OFFSET, DNL, NOISE, QUANTUM)
"""Places that only add to the ADC's input, so that their extremes add up exactly.

DNL moves each edge between codes by no more than its size, to either side."""

HEAT_STEPS = 5
"""Rounds for the body's own heat: each adds about two digits, as heat changes little per kelvin."""


class Body(NamedTuple):
    """What surrounds a thermistor.

    ``heat_k_per_w`` [K/W]: from the body to all around it; ``lag_s`` [s]; ``ambient_share``
    [0..1]: weight of the ambient in its temperature; ``ambient_c`` [degC]: coldest and warmest
    ambient; ``current_a`` [A]: the whole LED current; ``b_k`` [K]: B value by which its tolerance
    counts.
    """

    heat_k_per_w: float
    lag_s: float
    ambient_share: float
    ambient_c: tuple[float, float]
    current_a: float
    b_k: float


@compiled
def _parts(deviation: Array) -> Parts:
    """The parts of a deviation; what it says of the ADC is added in the end."""
    return Parts(
        deviation[RESISTOR],
        deviation[DRIFT],
        deviation[SERIES],
        deviation[SERIES_DRIFT],
        deviation[PARALLEL],
        deviation[PARALLEL_DRIFT],
        deviation[R25],
        deviation[B_VALUE],
        deviation[SUPPLY],
        deviation[REFERENCE],
        deviation[HEATING],
        0.0,
        0.0,
    )


@compiled
def _ohm(circuit: Circuit, body: Body, parts: Parts, body_c: float) -> float:
    """Resistance [ohm] of the unit's thermistor at ``body_c`` [degC]."""
    return ohm_at(circuit.ntc, body_c) * thermistor_factor(parts, body.b_k, body_c)


@compiled
def _above_air_k(body: Body, leak: float, site_c: float) -> float:
    """How far [K] the site is above the air, for a ``leak`` of 1 .. 2; in proportion below 1."""
    coldest_c, warmest_c = body.ambient_c
    warmed_k = max(leak - 1.0, 0.0) * (warmest_c - coldest_c)
    return min(leak, 1.0) * (site_c - coldest_c) - warmed_k


@compiled
def lsb_at(circuit: Circuit, body: Body, deviation: Array, site_c: float) -> float:
    """Input of the ADC [LSB, not truncated] of a unit mounted on ``site_c`` [degC]."""
    parts = _parts(deviation)
    bridge = bridge_of(circuit.bridge, parts, site_c)
    amperes = deviation[CURRENT] * body.current_a
    droop_v = circuit.supply_v_per_a * amperes
    leak_k = body.ambient_share * _above_air_k(body, deviation[LEAK], site_c)
    passive_c = site_c - leak_k - deviation[RAMP] * (1.0 - body.ambient_share) * body.lag_s
    body_c = passive_c
    if deviation[HEATING] != 0.0:
        live = 1.0 - droop_v / bridge.supply_v + parts.supply
        k_per_w = deviation[HEATING] * body.heat_k_per_w * live * live
        for _ in range(HEAT_STEPS):
            ohm = _ohm(circuit, body, parts, body_c)
            body_c = passive_c + k_per_w * thermistor_w(bridge, ohm)
    ohm = _ohm(circuit, body, parts, body_c)
    ratio = input_of(bridge, parts, ohm, droop_v, circuit.ground_v_per_a * amperes)
    if deviation[SETTLING] != 0.0:
        left = deviation[SETTLING] * left_over(circuit.hold, source_ohm(bridge, ohm))
        ratio += left * (circuit.hold.previous - ratio)
    transfer = Transfer(
        circuit.transfer.full_scale,
        deviation[OFFSET],
        deviation[GAIN],
        deviation[INL],
        0.0,
        1,
        0.0,
        circuit.transfer.s_shaped,
    )
    return bent(transfer, ratio) + deviation[DNL] + deviation[NOISE] + deviation[QUANTUM]


@compiled
def lsb_ends(circuit: Circuit) -> tuple[float, float]:
    """Least and most input [LSB] that any thermistor of the ideal chain gives."""
    full_scale = circuit.transfer.full_scale
    open_lsb = full_scale * ratio_at(circuit, 0.0, 0.0, OPEN)
    short_lsb = full_scale * ratio_at(circuit, 0.0, 0.0, SHORT)
    return min(open_lsb, short_lsb), max(open_lsb, short_lsb)


@compiled
def celsius_read(circuit: Circuit, lsb: float) -> float:
    """Temperature [degC] the ideal chain gives ``lsb`` [LSB], held half a code inside its ends."""
    least, most = lsb_ends(circuit)
    return celsius_at_lsb(circuit, min(max(lsb, least + 0.5), most - 0.5))


@compiled
def corner_lsb(circuit: Circuit, body: Body, ends: Array, site_c: Array) -> Array:
    """Least and most input [LSB] over all corners of ``ends``, shape (places, 2), at each site.

    The input is monotone in every place while the others are held, so no unit inside the ends
    lies beyond the corners.
    """
    free = [place for place in range(ends.shape[0]) if ends[place, 0] != ends[place, 1]]
    free = [place for place in free if place not in ADDED]
    added = np.array([sum([ends[place, side] for place in ADDED]) for side in range(2)])
    found = np.empty((len(site_c), 2))
    for i in range(len(site_c)):
        least, most = np.inf, -np.inf
        deviation = ends[:, 0].copy()
        for place in ADDED:
            deviation[place] = 0.0
        for corner in range(1 << len(free)):
            for bit in range(len(free)):
                deviation[free[bit]] = ends[free[bit], (corner >> bit) & 1]
            lsb = lsb_at(circuit, body, deviation, site_c[i])
            least, most = min(least, lsb), max(most, lsb)
        found[i, 0], found[i, 1] = least + added[0], most + added[1]
    return found


@compiled
def errors_k(circuit: Circuit, body: Body, deviation: Array, site_c: Array) -> Array:
    """What the deviation adds [K] to an ideal reading, at each ``site_c`` [degC]."""
    found = np.empty(len(site_c))
    for i in range(len(site_c)):
        found[i] = celsius_read(circuit, lsb_at(circuit, body, deviation, site_c[i])) - site_c[i]
    return found
