"""The divider that turns the thermistor's resistance into a voltage, and heats it meanwhile.

pull-up: fixed resistor to the supply, thermistor to ground: V = Vs R / (R + Rf), falls with T.
pull-down: thermistor to the supply, fixed resistor to ground: V = Vs Rf / (R + Rf), rises with T.
ratiometric: the ADC refers to the same supply; absolute: to a voltage of its own.
"""

from typing import NamedTuple

from derate.compiled import compiled
from derate.lamp.sensor import Divider


class Bridge(NamedTuple):
    """A divider as the compiled kernels take it; ``reference_v`` counts when not ratiometric."""

    pull_up: bool
    ratiometric: bool
    resistor_ohm: float
    supply_v: float
    reference_v: float


def from_lamp(divider: Divider) -> Bridge:
    """The divider of a lamp file."""
    ratiometric = divider.reference == "ratiometric"
    return Bridge(
        divider.arrangement == "pull-up",
        ratiometric,
        float(divider.resistor_ohm),
        float(divider.supply_v),
        float(divider.supply_v if ratiometric else divider.reference),
    )


@compiled
def share(bridge: Bridge, ohm: float) -> float:
    """Share [0..1] of the supply that stands at the ADC input for a thermistor of ``ohm`` [ohm]."""
    if bridge.pull_up:
        return ohm / (ohm + bridge.resistor_ohm)
    return bridge.resistor_ohm / (ohm + bridge.resistor_ohm)


@compiled
def ohm_at_share(bridge: Bridge, share_of_supply: float) -> float:
    """The thermistor's resistance [ohm] at a share (0..1) of the supply: ``share`` inverted."""
    if bridge.pull_up:
        return bridge.resistor_ohm * share_of_supply / (1.0 - share_of_supply)
    return bridge.resistor_ohm * (1.0 - share_of_supply) / share_of_supply


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
    return bridge.supply_v * ohm / (ohm + bridge.resistor_ohm)


@compiled
def thermistor_w(bridge: Bridge, ohm: float) -> float:
    """Heat [W] set free in a thermistor of ``ohm`` [ohm]: Vs^2 R / (R + Rf)^2, most at R = Rf."""
    current_a = bridge.supply_v / (ohm + bridge.resistor_ohm)
    return current_a * current_a * ohm
