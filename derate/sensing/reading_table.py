"""What a reading table is: four kinds for a microcontroller, and the arithmetic of each.

- "direct": one value a code.
- "code steps": values at cell edges 2^shift codes apart, from ``first_code`` on; no search.
- "temperature steps": knots in code at equal steps of temperature, found by bisection.
- "placed knots": knots in code and value, as few as the error allows (``placed``).

Between knots the reading follows the whole-number formula of ``lookup``; below the first knot and
above the last it stays at their values; the last of "code steps" may lie beyond the converter's
codes. Errors are against the ideal chain at the middle of each code over the working range,
rounding included. Fault codes are those of the window.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.compiled import compiled
from derate.sensing.lookup import reading_at
from derate.sensing.window import Window

KINDS = ("code steps", "temperature steps", "placed knots", "direct")
ENTRY_BYTES = 2


class ReadingTable(NamedTuple):
    """A reading table of one ``kind``, with values in counts of 1/``scale`` K.

    ``codes``: knots, empty for "direct" and "code steps". Those of "temperature steps" stand at
    16 bits: they are compared with the code shifted left by ``shift``.
    ``values``: reading [counts] at each knot, cell edge or code. Those of "temperature steps" are
    ``values[0]`` + i (``values[1]`` - ``values[0]``) and need no place in memory.
    ``first_code``: the code of ``values[0]`` for "direct" and "code steps".
    ``shift``: cells of "code steps" span 2^shift codes; left shift of "temperature steps"; else 0.
    ``error_k`` [K]: largest error over every healthy code. ``lower_bound``: for "placed knots",
    no table of this kind with fewer segments keeps within the error asked for; else None.
    """

    kind: str
    scale: int
    codes: NDArray[np.uint16]
    values: NDArray[np.int16]
    first_code: int
    shift: int
    window: Window
    error_k: float
    lower_bound: int | None

    @property
    def segments(self) -> int:
        """Straight stretches between knots or cell edges; for "direct" the number of codes."""
        return len(self.values) - (self.kind != "direct")

    @property
    def first_value(self) -> int:
        """Value [counts] at the first knot."""
        return int(self.values[0])

    @property
    def step_value(self) -> int:
        """Step [counts] from the first value to the second."""
        return int(self.values[1]) - int(self.values[0])

    @property
    def bytes(self) -> int:
        """Constants in flash: arrays, and 2 bytes for each number beside them.

        These are first code ("direct"), first code and shift ("code steps"), first value and step
        ("temperature steps"). The fault window, 4 bytes for every kind, is not counted.
        """
        if self.kind == "placed knots":
            return 2 * ENTRY_BYTES * len(self.codes)
        if self.kind == "temperature steps":
            return ENTRY_BYTES * (len(self.codes) + 2)
        return ENTRY_BYTES * (len(self.values) + 1 + (self.kind == "code steps"))

    @property
    def operations(self) -> int:
        """Compares, multiplications, divisions and shifts of a reading at worst.

        Two compares for the ends; then nothing ("direct"); a shift to the cell, a product and a
        shift ("code steps"); or a compare for each halving of the knots, a product and a division,
        with a shift before and a product for the value of the knot ("temperature steps").
        """
        if self.kind == "direct":
            return 2
        if self.kind == "code steps":
            return 5
        halvings = max(1, self.segments - 1).bit_length() if self.segments > 1 else 0
        return 4 + halvings + 2 * (self.kind == "temperature steps")


def readings(table: ReadingTable, codes: ArrayLike) -> NDArray[np.int64]:
    """Reading [counts] of each code, of the same shape; look at the window first."""
    wanted = np.asarray(codes, np.int64)
    flat = wanted.ravel()
    if table.kind == "direct":
        found = _direct(table.values, table.first_code, flat)
    elif table.kind == "code steps":
        found = _on_steps(table.values, table.first_code, table.shift, flat)
    else:
        found = _between(table.codes, table.values, table.shift, flat)
    return np.asarray(found).reshape(wanted.shape)


def reading(table: ReadingTable, code: int) -> int:
    """Reading [counts] of one code; look at the window first."""
    return int(readings(table, code))


@compiled
def _direct(
    values: NDArray[np.int16], first_code: int, codes: NDArray[np.int64]
) -> NDArray[np.int64]:
    last = values.shape[0] - 1
    return np.array([np.int64(values[min(max(code - first_code, 0), last)]) for code in codes])


@compiled
def _on_steps(
    values: NDArray[np.int16], first_code: int, shift: int, codes: NDArray[np.int64]
) -> NDArray[np.int64]:
    found = np.empty(codes.shape[0], np.int64)
    last = values.shape[0] - 1
    for n in range(codes.shape[0]):
        past = max(codes[n] - first_code, 0)
        i = past >> shift
        if i >= last:
            found[n] = values[last]
        else:
            span = 1 << shift
            rise = np.int64(values[i + 1]) - np.int64(values[i])
            run = past - (i << shift)
            found[n] = np.int64(values[i]) + ((2 * rise * run + span) >> (shift + 1))
    return found


@compiled
def _between(
    knots: NDArray[np.uint16], values: NDArray[np.int16], shift: int, codes: NDArray[np.int64]
) -> NDArray[np.int64]:
    return np.array([reading_at(knots, values, code << shift) for code in codes])
