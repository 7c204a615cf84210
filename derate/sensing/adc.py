"""The ADC: from a voltage ratio to a code, with the errors a data sheet states.

Convention: truncating. With x = V / Vref * 2^bits the ideal code is floor(x), held in
0 .. 2^bits - 1; code k stands for x from k to k + 1, first transition at 1 LSB. A converter
whose first transition is at half an LSB is this one with ``offset_lsb`` = 0.5.
The errors bend x before it is truncated:

    x' = x (1 + gain_error) + offset_lsb + inl_lsb 4 u (1 - u) + noise_lsb g,     u = x / 2^bits

INL thus is a bow against the end-point line, largest at mid-scale. Oversampling takes the
rounded mean of n codes, each with a noise of its own; the code keeps its width.
"""

from typing import NamedTuple

from derate.compiled import compiled
from derate.lamp.sensor import Adc
from derate.sensing.noise import gaussian


class Transfer(NamedTuple):
    """An ADC as the compiled kernels take it; ``full_scale`` is 2^bits."""

    full_scale: int
    offset_lsb: float
    gain_error: float
    inl_lsb: float
    noise_lsb: float
    oversampling: int


def from_lamp(adc: Adc) -> Transfer:
    """The ADC of a lamp file."""
    return Transfer(
        1 << adc.bits,
        float(adc.offset_lsb),
        float(adc.gain_error),
        float(adc.inl_lsb),
        float(adc.noise_lsb),
        int(adc.oversampling),
    )


def ideal(transfer: Transfer) -> Transfer:
    """The same ADC without errors, noise and oversampling."""
    return Transfer(transfer.full_scale, 0.0, 0.0, 0.0, 0.0, 1)


@compiled
def bent(transfer: Transfer, ratio: float) -> float:
    """x' [LSB], not truncated, for a voltage ``ratio`` V / Vref [-], without noise."""
    x = ratio * transfer.full_scale
    u = min(1.0, max(0.0, ratio))
    bow = transfer.inl_lsb * 4.0 * u * (1.0 - u)
    return x * (1.0 + transfer.gain_error) + transfer.offset_lsb + bow


@compiled
def truncated(transfer: Transfer, x: float) -> int:
    """The code of ``x`` [LSB]: floor, held between 0 and full scale - 1."""
    return int(min(max(x, 0.0), transfer.full_scale - 1.0))


@compiled
def convert(transfer: Transfer, ratio: float, seed: int, unit: int, tick: int, use: int) -> int:
    """The code of a voltage ``ratio`` V / Vref [-]; noise from numbers ``use``, ``use`` + 1, ..."""
    x = bent(transfer, ratio)
    if transfer.noise_lsb == 0.0:
        return truncated(transfer, x)
    total = 0
    for i in range(transfer.oversampling):
        noise = transfer.noise_lsb * gaussian(seed, unit, tick, use + i)
        total += truncated(transfer, x + noise)
    return (total + transfer.oversampling // 2) // transfer.oversampling
