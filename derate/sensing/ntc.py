"""Resistance and temperature of an NTC thermistor, both ways.

    1/T = a + b ln R + c (ln R)^3          T in kelvin, R in ohm        (Steinhart and Hart, 1968)

or, from a maker's table, a monotone cubic (Fritsch and Carlson, 1980) of 1/T against ln R, which
is continued along its end slopes, that is with a constant B value, outside the table.
Built by ``thermistor``. Valid from -55 to 200 degC; the curves continue smoothly beyond.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.compiled import compiled

KELVIN_AT_0_C = 273.15
REFERENCE_C = 25.0
"""Temperature at which a part's resistance and its tolerances are stated [degC]."""
LOWEST_C, HIGHEST_C = -55.0, 200.0
"""Range [degC] over which every thermistor must fall."""
NEGLIGIBLE_C = 1e-25
"""|c| [1/K] below which the cubic term is lost in the rounding of 1/T for any |ln R| < 40."""
ROOT_STEPS = 60
ROOT_TOLERANCE = 4e-16
"""Steps, and relative width of a table segment, at which the search for ln R ends."""


class Ntc(NamedTuple):
    """A thermistor as the compiled kernels take it.

    ``a``, ``b``, ``c`` [1/K]: Steinhart-Hart coefficients, used when ``table`` has no columns.
    ``table``: shape (3, rows): ln of the resistance in ohm (rising), 1/T [1/K], and the slope
    of the second against the first.
    """

    a: float
    b: float
    c: float
    table: NDArray[np.float64]


@compiled
def ohm_at(ntc: Ntc, temperature_c: float) -> float:
    """Resistance [ohm] at one ``temperature_c`` [degC]; for kernels.

    c L^3 + b L = y with y = 1/T - a is Cardano's depressed cubic. With m = sqrt(b / 3|c|) and
    L = 2 m s it reads s^3 terms of a triple angle: sinh(3u) = 3 y / (2 b m) for c > 0, and
    sin(3u) for c < 0, where only the falling branch |L| < m is a thermistor's. Neither
    subtracts nearly equal numbers, so that a vanishing c is harmless.
    """
    inverse_k = 1.0 / (temperature_c + KELVIN_AT_0_C)
    if ntc.table.shape[1] > 0:
        return math.exp(_log_ohm_in_table(ntc.table, inverse_k))
    y = inverse_k - ntc.a
    if abs(ntc.c) < NEGLIGIBLE_C:
        return math.exp(y / ntc.b)
    m = math.sqrt(ntc.b / (3.0 * abs(ntc.c)))
    triple = 1.5 * y / (ntc.b * m)
    if ntc.c > 0.0:
        return math.exp(2.0 * m * math.sinh(math.asinh(triple) / 3.0))
    triple = min(1.0, max(-1.0, triple))
    return math.exp(2.0 * m * math.sin(math.asin(triple) / 3.0))


@compiled
def celsius_at(ntc: Ntc, resistance_ohm: float) -> float:
    """Temperature [degC] at one ``resistance_ohm`` [ohm, > 0]; for kernels."""
    log_ohm = math.log(resistance_ohm)
    if ntc.table.shape[1] > 0:
        return 1.0 / _inverse_k_in_table(ntc.table, log_ohm) - KELVIN_AT_0_C
    return 1.0 / (ntc.a + log_ohm * (ntc.b + ntc.c * log_ohm * log_ohm)) - KELVIN_AT_0_C


@compiled
def _segment(knots: NDArray[np.float64], x: float) -> int:
    """Index of the segment of rising ``knots`` that holds ``x``."""
    low, high = 0, knots.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if x < knots[middle]:
            high = middle
        else:
            low = middle
    return low


@compiled
def _cubic(table: NDArray[np.float64], i: int, share: float) -> tuple[float, float]:
    """1/T at ``share`` [0..1] of segment ``i``, and its derivative by ``share``."""
    width = table[0, i + 1] - table[0, i]
    rise = table[1, i + 1] - table[1, i]
    start, end = width * table[2, i], width * table[2, i + 1]
    square, cube = 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise
    value = table[1, i] + share * (start + share * (square + share * cube))
    return value, start + share * (2.0 * square + 3.0 * share * cube)


@compiled
def _inverse_k_in_table(table: NDArray[np.float64], log_ohm: float) -> float:
    last = table.shape[1] - 1
    if log_ohm <= table[0, 0]:
        return table[1, 0] + table[2, 0] * (log_ohm - table[0, 0])
    if log_ohm >= table[0, last]:
        return table[1, last] + table[2, last] * (log_ohm - table[0, last])
    i = _segment(table[0], log_ohm)
    return _cubic(table, i, (log_ohm - table[0, i]) / (table[0, i + 1] - table[0, i]))[0]


@compiled
def _log_ohm_in_table(table: NDArray[np.float64], inverse_k: float) -> float:
    """ln R by Newton's method inside the segment, held in a bracket by bisection."""
    last = table.shape[1] - 1
    if inverse_k <= table[1, 0]:
        return table[0, 0] + (inverse_k - table[1, 0]) / table[2, 0]
    if inverse_k >= table[1, last]:
        return table[0, last] + (inverse_k - table[1, last]) / table[2, last]
    i = _segment(table[1], inverse_k)
    low, high = 0.0, 1.0
    share = (inverse_k - table[1, i]) / (table[1, i + 1] - table[1, i])
    for _ in range(ROOT_STEPS):
        value, slope = _cubic(table, i, share)
        if value < inverse_k:
            low = share
        else:
            high = share
        step = share - (value - inverse_k) / slope if slope > 0.0 else -1.0
        if not low <= step <= high:
            step = 0.5 * (low + high)
        done = abs(step - share) <= ROOT_TOLERANCE
        share = step
        if done:
            break
    return table[0, i] + share * (table[0, i + 1] - table[0, i])


@compiled
def _ohms_at(ntc: Ntc, temperature_c: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([ohm_at(ntc, t) for t in temperature_c])


@compiled
def _celsius_each(ntc: Ntc, resistance_ohm: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([celsius_at(ntc, r) for r in resistance_ohm])


def resistance_ohm(ntc: Ntc, temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Resistance [ohm] at ``temperature_c`` [degC], of the same shape."""
    values = np.asarray(temperature_c, float)
    return np.asarray(_ohms_at(ntc, values.ravel())).reshape(values.shape)


def temperature_c(ntc: Ntc, resistance_ohm: ArrayLike) -> NDArray[np.float64]:
    """Temperature [degC] at ``resistance_ohm`` [ohm, > 0], of the same shape."""
    values = np.asarray(resistance_ohm, float)
    return np.asarray(_celsius_each(ntc, values.ravel())).reshape(values.shape)
