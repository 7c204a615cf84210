"""A table at uniform steps of the code: cells of 2^shift codes, found by a shift, no search.

The values at the edges of the cells need not lie on the curve. All chains of whole values that
stay in the corridor are followed from edge to edge, so that the least tolerance that leaves one
gives the least error. The last cell may run beyond the last code.
"""

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.sensing.corridor import (
    STEEP,
    Cone,
    Whole,
    about,
    is_empty,
    narrowed,
    whole_rises,
)

VALUES_FOLLOWED = 96
"""Values followed at each edge; where the corridor holds more, evenly spread ones."""
HALVINGS = 12
"""Bisections of the tolerance: to 1/4000 of the first one."""
WIDEST_COUNTS = 8192.0
"""A table that errs more is no table."""
READING_LIMIT = 32767
"""Readings are int16, of which -32768 is kept free."""


def edge_values(curve: NDArray[np.float64], shift: int, tolerance: float) -> Whole | None:
    """Values [counts] at the edges of cells of 2^``shift`` codes, or None when none hold.

    ``curve`` [counts] is what the codes stand for, ``tolerance`` [counts] what a reading may err.
    """
    low, high, falling = about(curve, tolerance)
    if np.any(low > high):
        return None
    found = np.asarray(_followed(low, high, falling, 1 << shift))
    return found if len(found) else None


def least_error(
    curve: NDArray[np.float64], shift: int, tolerance: float = WIDEST_COUNTS
) -> Whole | None:
    """The values of ``edge_values`` for the least tolerance [counts] up to the given one."""
    below, best, trial = 0.5, None, min(4.0, tolerance)
    while best is None:
        best = edge_values(curve, shift, trial)
        if best is None:
            if trial >= tolerance:
                return None
            below, trial = trial, min(2.0 * trial, tolerance)
    for _ in range(HALVINGS):
        middle = 0.5 * (below + trial)
        found = edge_values(curve, shift, middle)
        if found is None:
            below = middle
        else:
            best, trial = found, middle
    return best


@compiled
def _rises(
    low: Whole, high: Whole, falling: bool, start: int, value: int, span: int
) -> tuple[int, int]:
    """Least and greatest rise over the cell of ``span`` codes from ``start``."""
    cone = Cone(-STEEP, 1, STEEP, 1)
    for k in range(start + 1, min(start + span, low.shape[0] - 1) + 1):
        cone = narrowed(cone, k - start, low[k] - value, high[k] - value)
        if is_empty(cone):
            return 1, 0
    first, last = whole_rises(cone, span, falling, 0)
    return max(first, -READING_LIMIT - value), min(last, READING_LIMIT - value)


@compiled
def _followed(low: Whole, high: Whole, falling: bool, span: int) -> Whole:
    """One chain of values through all cells, empty when there is none."""
    cells = max(1, -(-(low.shape[0] - 1) // span))
    width = 1
    for i in range(cells):
        width = max(width, high[i * span] - low[i * span] + 1)
    origin = np.full((cells, width), -1, np.int32)
    origin[0, : high[0] - low[0] + 1] = 0
    for i in range(cells - 1):
        base, beyond = low[i * span], low[(i + 1) * span]
        thin = max(1, (high[i * span] - base + 1) // VALUES_FOLLOWED)
        for v in range(0, high[i * span] - base + 1, thin):
            if origin[i, v] >= 0:
                first, last = _rises(low, high, falling, i * span, base + v, span)
                for d in range(first, last + 1):
                    origin[i + 1, base + v + d - beyond] = v
    final = (cells - 1) * span
    values = np.empty(cells + 1, np.int64)
    for v in range(high[final] - low[final] + 1):
        if origin[cells - 1, v] >= 0:
            first, last = _rises(low, high, falling, final, low[final] + v, span)
            if first <= last:
                values[cells] = low[final] + v + (first if abs(first) < abs(last) else last)
                at = v
                for i in range(cells - 1, -1, -1):
                    values[i] = low[i * span] + at
                    at = origin[i, at]
                return values
    return values[:0]
