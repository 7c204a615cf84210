"""A broken line of few segments through a corridor about a curve, with whole-number corners.

From a corner, the slopes that stay in the corridor up to a point form a cone that narrows as the
point moves on; the segment ends at the last point where the cone still holds a whole number.
Corners need not lie on the curve, which saves about a third of the segments.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Corners = list[tuple[int, int]]

PRODUCT_LIMIT = 2**31 - 1
"""Twice rise times run, plus run, stays below this in every segment, so that 32 bits do."""
LOOK_AHEAD = 64
"""Points looked at first for the end of a segment; doubled while the end is not in sight."""


def fewest_corners(curve: Array, tolerance: float) -> Corners:
    """Corners (index, value) of a line within ``tolerance`` of a monotone ``curve`` at every index.

    The line is monotone in the same direction. Several first values are tried and the shortest
    result kept; each is the greedy one, not the best possible.
    """
    low, high = np.ceil(curve[0] - tolerance), np.floor(curve[0] + tolerance)
    starts = sorted({int(low), int(np.rint(curve[0])), int(high)})
    return min((_line_from(start, curve, tolerance) for start in starts), key=len)


def _line_from(start: int, curve: Array, tolerance: float) -> Corners:
    corners = [(0, start)]
    while corners[-1][0] < len(curve) - 1:
        corners.append(_next_corner(corners[-1], curve, tolerance))
    return corners


def _next_corner(corner: tuple[int, int], curve: Array, tolerance: float) -> tuple[int, int]:
    """The farthest corner that one straight segment reaches from ``corner``."""
    at, value = corner
    look = LOOK_AHEAD
    while True:
        ahead = curve[at + 1 : at + 1 + look]
        least, most = _ends(value, ahead, tolerance, falling=bool(curve[-1] < curve[0]))
        run = np.arange(1, len(ahead) + 1)
        small = 2.0 * np.maximum(abs(least - value), abs(most - value)) * run + run <= PRODUCT_LIMIT
        reached = np.flatnonzero((least <= most) & small)
        if len(ahead) < look or len(reached) == 0 or reached[-1] < len(ahead) // 2:
            break
        look *= 2
    last = int(reached[-1])
    middle = 0.5 * (least[last] + most[last])
    nearest = np.clip(np.rint(middle), least[last], most[last])
    return at + 1 + last, int(nearest)


def _ends(value: int, ahead: Array, tolerance: float, *, falling: bool) -> tuple[Array, Array]:
    """Least and most whole number at which a segment from ``value`` may end, at each point."""
    run = np.arange(1, len(ahead) + 1)
    low = np.maximum.accumulate((ahead - tolerance - value) / run)
    high = np.minimum.accumulate((ahead + tolerance - value) / run)
    low, high = (low, np.minimum(high, 0.0)) if falling else (np.maximum(low, 0.0), high)
    return np.ceil(value + low * run), np.floor(value + high * run)
