"""The sample capacitor of the ADC: how much of the channel before is left in the next code.

The capacitor Cs comes from the channel converted before, at its voltage Vprev, and is joined to
the pin through the switch Rw for a time t. The pin sees the divider through R. What is left of
the difference Vprev - V after t is a share g of it:

    without a capacitor at the pin        g = exp(-t / ((R + Rw) Cs))
    with a capacitor Cf at the pin        g = the sum of two exponentials, exactly: the charge is
                                          shared within Rw Cs, g = Cs / (Cs + Cf), and then flows
                                          off through R in R (Cs + Cf)

Cf is taken to have recovered since the sample before, which needs several times R Cf.
"""

import math
from typing import NamedTuple

from derate.compiled import compiled
from derate.lamp.sensor import Sampling


class Hold(NamedTuple):
    """A sample capacitor as the compiled kernels take it; ``capacitance_f`` 0 settles at once.

    ``previous`` [0..1]: voltage of the channel before, as a share of the ADC's reference;
    ``to_pin_ohm`` [ohm] lies between divider and pin.
    """

    capacitance_f: float
    switch_ohm: float
    time_s: float
    filter_f: float
    to_pin_ohm: float
    previous: float


AT_ONCE = Hold(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def from_lamp(sampling: Sampling | None) -> Hold:
    """The sample capacitor of a lamp file."""
    if sampling is None:
        return AT_ONCE
    return Hold(
        float(sampling.capacitance_f),
        float(sampling.switch_ohm),
        float(sampling.time_s),
        float(sampling.filter_capacitance_f),
        float(sampling.to_pin_ohm),
        float(sampling.previous),
    )


@compiled
def left_over(hold: Hold, source_ohm: float) -> float:
    """Share g [0..1] of the difference to the channel before that is left in the sample.

    ``source_ohm`` [ohm]: what the divider shows to the outside, ``divider.source_ohm``.
    """
    if hold.capacitance_f == 0.0:
        return 0.0
    source = source_ohm + hold.to_pin_ohm
    if hold.filter_f == 0.0:
        return math.exp(-hold.time_s / ((source + hold.switch_ohm) * hold.capacitance_f))
    if source == 0.0:
        return math.exp(-hold.time_s / (hold.switch_ohm * hold.capacitance_f))
    return _shared(hold, source)


@compiled
def _shared(hold: Hold, source: float) -> float:
    """g of the two capacitors: z'' + (p + w) z' + q z = 0 with z = 1 and z' = -w at first."""
    w = 1.0 / (hold.switch_ohm * hold.capacitance_f)
    p = (1.0 / source + 1.0 / hold.switch_ohm) / hold.filter_f
    q = w / (source * hold.filter_f)
    half = 0.5 * (p + w)
    fast = -(half + math.sqrt(half * half - q))
    slow = q / fast
    start, later = -w - fast, w + slow
    return (start * math.exp(slow * hold.time_s) + later * math.exp(fast * hold.time_s)) / (
        slow - fast
    )
