"""The table by which the firmware turns a code into a reading, and the arithmetic it uses.

Corners are codes (uint16) with readings in hundredths of a degree (int16, centi-degC). Between
corners, in whole numbers, with // the division that rounds towards minus infinity:

    reading = value[i] + (2 d x + span) // (2 span),   d = value[i + 1] - value[i],
    x = code - knot[i],  span = knot[i + 1] - knot[i]

Below the first and above the last corner the reading stays at that corner's value. The table is
made for the chain without errors; code k stands for the middle of its step, k + 1/2. No table of
this form with fewer corners keeps within the same error (``placed``).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.compiled import compiled
from derate.errors import InputError
from derate.sensing.circuit import HEALTHY, OPEN, SHORT, Circuit, celsius_at_lsb, ideal_lsb
from derate.sensing.corridor import about
from derate.sensing.placed import fewest_segments
from derate.sensing.window import Window, fault_window

MAX_ERROR_K = 0.1
CENTI = 100
LEAST_ERROR_K = 0.011
"""Below that hardly more than one whole hundredth would fit at each code."""


class Lookup(NamedTuple):
    """A reading table: corners, fault window, and the largest error of the reading [K].

    The error is against the ideal chain at the middle of each code, over the working range.
    """

    knots: NDArray[np.uint16]
    centi_c: NDArray[np.int16]
    window: Window
    error_k: float

    @property
    def open_code(self) -> int:
        """First code of the window for an open thermistor."""
        return self.window.open_code

    @property
    def short_code(self) -> int:
        """First code of the window for a shorted thermistor."""
        return self.window.short_code

    @property
    def open_margin_codes(self) -> int:
        """Codes from the extreme healthy one to the window for an open thermistor."""
        return self.window.open_margin_codes

    @property
    def short_margin_codes(self) -> int:
        """Codes from the extreme healthy one to the window for a shorted thermistor."""
        return self.window.short_margin_codes


@compiled
def reading_at(knots: NDArray[np.uint16], centi_c: NDArray[np.int16], code: int) -> int:
    """Reading [centi-degC] of one ``code`` by the corners; for kernels."""
    low, high = 0, knots.shape[0] - 1
    at = np.int64(code)
    if at <= np.int64(knots[low]):
        return int(centi_c[low])
    if at >= np.int64(knots[high]):
        return int(centi_c[high])
    while high - low > 1:
        middle = (low + high) // 2
        if at < np.int64(knots[middle]):
            high = middle
        else:
            low = middle
    span = np.int64(knots[high]) - np.int64(knots[low])
    rise = np.int64(centi_c[high]) - np.int64(centi_c[low])
    run = at - np.int64(knots[low])
    return int(np.int64(centi_c[low]) + (2 * rise * run + span) // (2 * span))


@compiled
def wires_at(low_code: int, high_code: int, open_is_high: bool, code: int) -> int:
    """HEALTHY, OPEN or SHORT, as the fault window takes one ``code``; for kernels."""
    if code >= high_code:
        return OPEN if open_is_high else SHORT
    if code <= low_code:
        return SHORT if open_is_high else OPEN
    return HEALTHY


@compiled
def _readings_at(
    knots: NDArray[np.uint16], centi_c: NDArray[np.int16], codes: NDArray[np.int64]
) -> NDArray[np.int64]:
    return np.array([reading_at(knots, centi_c, code) for code in codes])


def reading_centi_c(lookup: Lookup, code: ArrayLike) -> NDArray[np.int64]:
    """Reading [centi-degC] for each ``code``, of the same shape; look at the window first."""
    codes = np.asarray(code, np.int64)
    readings = _readings_at(lookup.knots, lookup.centi_c, codes.ravel())
    return np.asarray(readings).reshape(codes.shape)


def build(
    circuit: Circuit,
    range_c: tuple[float, ...],
    *,
    max_error_k: float = MAX_ERROR_K,
    where: str = "sensor",
) -> Lookup:
    """The table for a circuit over its working range [degC], within ``max_error_k`` [K] in all.

    Raises InputError when the range leaves no room for the fault windows, or no codes.
    """
    window = fault_window(circuit, range_c, where=where)
    if max_error_k < LEAST_ERROR_K:
        raise InputError(
            f"{where}: a table error of {max_error_k:g} K is below the least, {LEAST_ERROR_K:g} K"
        )
    codes = healthy_codes(circuit, range_c, where=where)
    curve = CENTI * ideal_reading_c(circuit, codes)
    placed = fewest_segments(about(curve, CENTI * max_error_k), least_rise=1)
    if placed is None:
        raise InputError(f"{where}: no table of steadily changing readings holds {max_error_k:g} K")
    knots, centi_c = codes[placed.at].astype(np.uint16), placed.value.astype(np.int16)
    error_k = float(np.max(np.abs(_readings_at(knots, centi_c, codes) - curve))) / CENTI
    return Lookup(knots, centi_c, window, error_k)


def healthy_codes(
    circuit: Circuit, range_c: tuple[float, ...], *, where: str = "sensor"
) -> NDArray[np.int64]:
    """The codes an ideal chain gives over a working range [degC]; InputError for fewer than two."""
    ends = [int(ideal_lsb(circuit, celsius)) for celsius in range_c]
    codes = np.arange(min(ends), max(ends) + 1)
    if len(codes) < 2:
        raise InputError(
            f"{where}: the whole range of {range_c[0]:g} to {range_c[1]:g} degC falls on code"
            f" {codes[0]}; at least 2 codes are due, from another divider.resistor"
        )
    return codes


def ideal_reading_c(circuit: Circuit, code: ArrayLike) -> NDArray[np.float64]:
    """Temperature [degC] in the middle of each ``code`` of the ideal chain."""
    middles = np.asarray(code, float) + 0.5
    return np.asarray(_celsius_each(circuit, middles.ravel())).reshape(middles.shape)


@compiled
def _celsius_each(circuit: Circuit, lsb: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([celsius_at_lsb(circuit, x) for x in lsb])
