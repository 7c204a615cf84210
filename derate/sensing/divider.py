"""The divider that turns the thermistor's resistance into a voltage, and heats it meanwhile.

pull-up: fixed resistor to the supply, thermistor to ground: V = Vs R / (R + Rf), falls with T.
pull-down: thermistor to the supply, fixed resistor to ground: V = Vs Rf / (R + Rf), rises with T.
R is the whole leg: the thermistor with a linearising resistor Rp across it and one Rs in series,
R = Rs + Rp r / (Rp + r); without them R = r.
ratiometric: the ADC refers to the same supply; absolute: to a voltage of its own.
"""

import math
from typing import NamedTuple

from derate.compiled import compiled
from derate.lamp.sensor import Divider


class Bridge(NamedTuple):
    """A divider as the compiled kernels take it; ``reference_v`` counts when not ratiometric.

    ``series_ohm`` is 0 and ``parallel_ohm`` infinite where there is none.
    """

    pull_up: bool
    ratiometric: bool
    resistor_ohm: float
    supply_v: float
    reference_v: float
    series_ohm: float = 0.0
    parallel_ohm: float = math.inf


def from_lamp(divider: Divider) -> Bridge:
    """The divider of a lamp file."""
    ratiometric = divider.reference == "ratiometric"
    return Bridge(
        divider.arrangement == "pull-up",
        ratiometric,
        float(divider.resistor_ohm),
        float(divider.supply_v),
        float(divider.supply_v if ratiometric else divider.reference),
        float(divider.series_ohm),
        math.inf if divider.parallel_ohm is None else float(divider.parallel_ohm),
    )


@compiled
def leg_ohm(bridge: Bridge, ohm: float) -> float:
    """Resistance [ohm] of the thermistor's leg for a thermistor of ``ohm`` [ohm], 0 when shorted.

    An infinite ``ohm`` is an open thermistor, of which the resistor across it remains.
    """
    if ohm == math.inf:
        return bridge.series_ohm + bridge.parallel_ohm
    return bridge.series_ohm + ohm / (1.0 + ohm / bridge.parallel_ohm)


@compiled
def share(bridge: Bridge, ohm: float) -> float:
    """Share [0..1] of the supply that stands at the ADC input for a thermistor of ``ohm`` [ohm]."""
    leg = leg_ohm(bridge, ohm)
    if leg == math.inf:
        return 1.0 if bridge.pull_up else 0.0
    if bridge.pull_up:
        return leg / (leg + bridge.resistor_ohm)
    return bridge.resistor_ohm / (leg + bridge.resistor_ohm)


@compiled
def ohm_at_share(bridge: Bridge, share_of_supply: float) -> float:
    """The thermistor's resistance [ohm] at a share of the supply: ``share`` inverted.

    The share must lie between those of a shorted and an open thermistor.
    """
    if bridge.pull_up:
        leg = bridge.resistor_ohm * share_of_supply / (1.0 - share_of_supply)
    else:
        leg = bridge.resistor_ohm * (1.0 - share_of_supply) / share_of_supply
    pair = leg - bridge.series_ohm
    return pair / (1.0 - pair / bridge.parallel_ohm)


@compiled
def source_ohm(bridge: Bridge, ohm: float) -> float:
    """Resistance [ohm] that the ADC sees: the leg and the fixed resistor side by side."""
    leg = leg_ohm(bridge, ohm)
    return bridge.resistor_ohm / (1.0 + bridge.resistor_ohm / leg) if leg > 0.0 else 0.0


@compiled
def input_ratio(bridge: Bridge, share_of_supply: float, droop_v: float, ground_v: float) -> float:
    """Voltage at the ADC input over its reference [-].

    ``droop_v`` [V] is taken from the supply (and cancels when ratiometric); ``ground_v`` [V] is
    added at the input.
    """
    supply_v = bridge.supply_v - droop_v
    reference_v = supply_v if bridge.ratiometric else bridge.reference_v
    return (supply_v * share_of_supply + ground_v) / reference_v


@compiled
def thermistor_v(bridge: Bridge, ohm: float) -> float:
    """Voltage [V] across a thermistor of ``ohm`` [ohm]."""
    leg = leg_ohm(bridge, ohm)
    return bridge.supply_v * (leg - bridge.series_ohm) / (leg + bridge.resistor_ohm)


@compiled
def thermistor_w(bridge: Bridge, ohm: float) -> float:
    """Heat [W] set free in a thermistor of ``ohm`` [ohm]: V^2 / r, without extra resistors most
    at r = Rf."""
    voltage_v = thermistor_v(bridge, ohm)
    return voltage_v * voltage_v / ohm
