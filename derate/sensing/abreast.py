"""The sensors of eight units side by side, from temperatures to codes.

From its temperature to the ADC, and to the heat it sets itself free, a sensor is two smooth
functions. They are laid out as polynomials over cells of one kelvin, to rounding; a sensor that
is not that smooth, as one whose curve has knots inside cells may be, is left to
``derate.sensing.circuit``, as are faults, currents in its ground and codes of uneven width. The
noise is that of ``derate.sensing.noise``, its logarithm and cosine from tables.
"""

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled, inlined
from derate.lanes import (
    every,
    look,
    of_pattern,
    pattern,
    pick,
    real,
    root,
    side,
    where,
    whole,
)
from derate.sensing.adc import S_PEAK
from derate.sensing.circuit import HEALTHY, Circuit, own_heat_w, sampled_ratio, unpacked
from derate.sensing.noise import PARITY, ROTATIONS, ROUNDS, TWO_POW_32, WORD
from derate.sensing.parts import transfer_of

Array = NDArray[np.float64]
Numbers = Any

COLDEST_C, CELLS = -60.0, 270
"""First cell [degC] and their number; each is 1 K wide."""
TERMS = 6
"""Terms of the polynomial in a cell: a thermistor's next one is below rounding."""
SMOOTH = 1e-12
"""What the polynomials may be off [share of full scale, share of the largest heat]."""
RATIO, HEAT = range(2)
SCALE, GAIN, OFFSET, INL, S_SHAPED, NOISE, SAMPLES = range(7)
"""Rows of ``adc``."""

_NODES = np.cos(np.pi * (np.arange(TERMS) + 0.5) / TERMS)
_TO_TERMS = np.linalg.inv(np.vander(_NODES, TERMS, increasing=True))
_BETWEEN = (-0.77, 0.31)
"""Where in a cell [-1..1] the polynomials are checked."""
LOG_CELLS, LOG_SHIFT = 64, 46
_CENTRES = 1.0 + (np.arange(LOG_CELLS) + 0.5) / LOG_CELLS
LOGS = np.column_stack((1.0 / _CENTRES, np.log(_CENTRES)))
"""1 / c and ln c of the middle c of each cell of [1, 2)."""
TURN_CELLS, TURN_SHIFT = 64, 26
_TURNS = 2.0 * np.pi * (np.arange(TURN_CELLS) + 0.5) / TURN_CELLS
TURNS = np.column_stack((np.cos(_TURNS), np.sin(_TURNS)))
"""Cosine and sine in the middle of each cell of a turn."""
FRACTION_BITS, ONE_BITS, BIAS = (1 << 52) - 1, 1023 << 52, 1023


class Smooth(NamedTuple):
    """Sensors S: ``terms`` (S, CELLS, 2 TERMS) of ratio and heat, ``adc`` (S, 7), ``fits`` (S)."""

    terms: Array
    adc: Array
    fits: NDArray[np.bool_]


def smooth_of(numbers: Array, tables: Array, rows: NDArray[np.int64]) -> Smooth:
    """The sensors of a unit as packed, laid out."""
    terms, adc, fits = [], [], []
    for packed, table, count in zip(numbers, tables, rows, strict=True):
        circuit = unpacked.py_func(packed, np.ascontiguousarray(table[:, :count]))
        found, at_most = _terms_of(circuit, _NODES, _TO_TERMS, np.array(_BETWEEN))
        transfer = transfer_of.py_func(circuit.transfer, circuit.parts)
        terms.append(found)
        fits.append(at_most <= SMOOTH and transfer.dnl_lsb == 0.0)
        adc.append((transfer.full_scale, 1.0 + transfer.gain_error, transfer.offset_lsb,
                    transfer.inl_lsb, transfer.s_shaped, transfer.noise_lsb,
                    transfer.oversampling))  # fmt: skip
    return Smooth(np.array(terms), np.array(adc, float), np.array(fits))


@compiled
def _terms_of(
    circuit: Circuit, nodes: Array, to_terms: Array, between: Array
) -> tuple[Array, float]:
    """Terms of all cells of a sensor, and the most they were found off."""
    terms = np.zeros((CELLS, 2 * TERMS))
    largest_w = 0.0
    for cell in range(CELLS):
        for n in range(TERMS):
            at_c = COLDEST_C + cell + 0.5 * (1.0 + nodes[n])
            ratio = sampled_ratio(circuit, at_c, 0.0, HEALTHY)
            heat_w = own_heat_w(circuit, at_c)
            largest_w = max(largest_w, abs(heat_w))
            for k in range(TERMS):
                terms[cell, k] += to_terms[k, n] * ratio
                terms[cell, TERMS + k] += to_terms[k, n] * heat_w
    off = 0.0
    for cell in range(CELLS):
        for n in range(between.shape[0]):
            at_c = COLDEST_C + cell + 0.5 * (1.0 + between[n])
            ratio, heat_w = 0.0, 0.0
            for k in range(TERMS - 1, -1, -1):
                ratio = ratio * between[n] + terms[cell, k]
                heat_w = heat_w * between[n] + terms[cell, TERMS + k]
            off = max(off, abs(ratio - sampled_ratio(circuit, at_c, 0.0, HEALTHY)))
            if largest_w > 0.0:
                off = max(off, abs(heat_w - own_heat_w(circuit, at_c)) / largest_w)
    return terms, off


@inlined
def term_sum(terms: Array, s: int, celsius: Numbers, first: int) -> Numbers:
    """One of the functions of sensor ``s`` at temperatures inside the cells."""
    place = celsius - COLDEST_C
    cell = whole(place)
    x = 2.0 * (place - real(cell)) - 1.0
    total = pick(terms, cell, s, first + TERMS - 1)
    for k in range(TERMS - 2, -1, -1):
        total = total * x + pick(terms, cell, s, first + k)
    return total


@inlined
def code_sums(smooth: Smooth, s: int, ratio: Numbers, samples: int, seed: int,
              unit: Numbers, tick: int, use: int) -> Numbers:  # fmt: skip
    """Sum of the codes of all samples of sensor ``s`` at these ratios; whole lanes."""
    adc, u = smooth.adc, min(max(ratio, 0.0), 1.0)
    scale, noise = side(adc, s, SCALE), side(adc, s, NOISE)
    bow = where(side(adc, s, S_SHAPED) > 0.0, S_PEAK * (1.0 - 2.0 * u), 4.0) * u * (1.0 - u)
    x = ratio * scale * side(adc, s, GAIN) + side(adc, s, OFFSET) + side(adc, s, INL) * bow
    total = every(0)
    for i in range(samples):
        seen = x + noise * gaussians(seed, unit, tick, use + i)
        total += whole(min(max(seen, 0.0), scale - 1.0))
    return total


@inlined
def gaussians(seed: int, unit: Numbers, tick: int, use: int) -> Numbers:
    """``derate.sensing.noise.gaussian`` of several units."""
    key0, key1 = every(seed & WORD), unit & WORD
    key2 = key0 ^ key1 ^ PARITY
    x0, x1 = (key0 + (tick & WORD)) & WORD, (key1 + (use & WORD)) & WORD
    for turn in range(ROUNDS):
        x0 = (x0 + x1) & WORD
        shift = ROTATIONS[turn % 8]
        x1 = (((x1 << shift) ^ (x1 >> (32 - shift))) & WORD) ^ x0
        if turn % 4 == 3:
            inject = turn // 4 + 1
            if inject % 3 == 1:
                x0, x1 = x0 + key1, x1 + key2
            elif inject % 3 == 2:
                x0, x1 = x0 + key2, x1 + key0
            else:
                x0, x1 = x0 + key0, x1 + key1
            x0, x1 = x0 & WORD, (x1 + inject) & WORD
    return root(-2.0 * _log_share(real(x0) + 0.5)) * _cosine(x1)


@inlined
def _log_share(x: Numbers) -> Numbers:
    """ln(x / 2^32)."""
    held = pattern(x)
    exponent = real((held >> 52) + (-BIAS - 32))
    mantissa = of_pattern((held & FRACTION_BITS) + ONE_BITS)
    cell = (held >> LOG_SHIFT) & (LOG_CELLS - 1)
    t = mantissa * look(LOGS, cell, 0) - 1.0
    series = 1.0 / 7.0 - t * 0.125
    for k in range(6, 0, -1):
        series = 1.0 / k - t * series
    return exponent * math.log(2.0) + (look(LOGS, cell, 1) + t * series)


@inlined
def _cosine(word: Numbers) -> Numbers:
    """cos(2 pi (word + 1/2) / 2^32)."""
    cell = word >> TURN_SHIFT
    from_middle = real(word & ((1 << TURN_SHIFT) - 1)) + (0.5 - (1 << (TURN_SHIFT - 1)))
    angle = from_middle * (2.0 * math.pi / TWO_POW_32)
    s = angle * angle
    cosine = 1.0 - s * (0.5 - s * (1.0 / 24.0 - s * (1.0 / 720.0 - s / 40320.0)))
    sine = angle * (1.0 - s * (1.0 / 6.0 - s * (1.0 / 120.0 - s * (1.0 / 5040.0))))
    return look(TURNS, cell, 0) * cosine - look(TURNS, cell, 1) * sine
