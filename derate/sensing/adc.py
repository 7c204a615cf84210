"""The ADC: from a voltage ratio to a code, with the errors a data sheet states.

Convention: truncating. With x = V / Vref * 2^bits the ideal code is floor(x), held in
0 .. 2^bits - 1; code k stands for x from k to k + 1, first transition at 1 LSB. A converter
whose first transition is at half an LSB is this one with ``offset_lsb`` = 0.5.
The errors bend x before it is truncated:

    x' = x (1 + gain_error) + offset_lsb + inl_lsb shape(u) + noise_lsb g,     u = x / 2^bits
    shape = 4 u (1 - u), a bow, or 6 sqrt(3) u (1 - u) (1 - 2u), an S; both peak at 1

INL thus is stated against the end-point line: a bow is largest at mid-scale, an S at 0.21 and,
with the other sign, at 0.79 of it. DNL makes codes wide and narrow by turns: even codes are
1 + dnl_lsb wide and odd ones 1 - dnl_lsb, so that every other transition moves. Oversampling
takes the rounded mean of n codes, each with a noise of its own; the code keeps its width.
"""

import math
from typing import NamedTuple

from derate.compiled import compiled
from derate.lamp.sensor import Adc
from derate.sensing.noise import gaussian


class Transfer(NamedTuple):
    """An ADC as the compiled kernels take it; ``full_scale`` is 2^bits, ``s_shaped`` its INL."""

    full_scale: int
    offset_lsb: float
    gain_error: float
    inl_lsb: float
    noise_lsb: float
    oversampling: int
    dnl_lsb: float = 0.0
    s_shaped: bool = False


S_PEAK = 6.0 * math.sqrt(3.0)
"""1 over the largest u (1 - u) (1 - 2u), which is at u = (1 - 1 / sqrt(3)) / 2."""


def from_lamp(adc: Adc) -> Transfer:
    """The ADC of a lamp file."""
    return Transfer(
        1 << adc.bits,
        float(adc.offset_lsb),
        float(adc.gain_error),
        float(adc.inl_lsb),
        float(adc.noise_lsb),
        int(adc.oversampling),
        float(adc.dnl_lsb),
        adc.inl_shape == "s",
    )


def ideal(transfer: Transfer) -> Transfer:
    """The same ADC without errors, noise and oversampling."""
    return Transfer(transfer.full_scale, 0.0, 0.0, 0.0, 0.0, 1)


@compiled
def bent(transfer: Transfer, ratio: float) -> float:
    """x' [LSB], not truncated, for a voltage ``ratio`` V / Vref [-], without noise."""
    x = ratio * transfer.full_scale
    u = min(1.0, max(0.0, ratio))
    shape = (S_PEAK * (1.0 - 2.0 * u) if transfer.s_shaped else 4.0) * u * (1.0 - u)
    return x * (1.0 + transfer.gain_error) + transfer.offset_lsb + transfer.inl_lsb * shape


@compiled
def truncated(transfer: Transfer, x: float) -> int:
    """The code of ``x`` [LSB]: floor, held between 0 and full scale - 1."""
    return int(min(max(x, 0.0), transfer.full_scale - 1.0))


@compiled
def coded(transfer: Transfer, x: float) -> int:
    """The code of ``x`` [LSB] with codes of uneven width, as ``dnl_lsb`` makes them."""
    if transfer.dnl_lsb == 0.0:
        return truncated(transfer, x)
    even = 2.0 * math.floor(0.5 * x)
    return truncated(transfer, even + 1.0 if x - even >= 1.0 + transfer.dnl_lsb else even)


@compiled
def convert(transfer: Transfer, ratio: float, seed: int, unit: int, tick: int, use: int) -> int:
    """The code of a voltage ``ratio`` V / Vref [-]; noise from numbers ``use``, ``use`` + 1, ..."""
    x = bent(transfer, ratio)
    if transfer.noise_lsb == 0.0:
        return coded(transfer, x)
    total = 0
    for i in range(transfer.oversampling):
        noise = transfer.noise_lsb * gaussian(seed, unit, tick, use + i)
        total += coded(transfer, x + noise)
    return (total + transfer.oversampling // 2) // transfer.oversampling
