"""A table at uniform steps of temperature: only the codes are stored, and searched.

The codes are kept at 16 bits, to a fraction of a code of a narrower converter: where one code is
many hundredths of a kelvin, no whole code would carry the temperature due.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

KNOT_BITS = 16
GROWTH = 1.2
"""Factor between the numbers of segments tried first."""
MOST_SEGMENTS = 4096

Curve = NDArray[np.float64]
Knots = tuple[NDArray[np.int64], NDArray[np.int64]]


def knots(curve: Curve, first_position: int, segments: int, *, shifted: bool) -> Knots | None:
    """Positions and values [counts] of the knots, or None when two share a position.

    ``curve`` [counts] at each position from ``first_position`` on, a position being 2^-16 of the
    converter's range. ``shifted``: off the curve by half the sagitta of the neighbouring chords,
    which halves the error, instead of on it.
    """
    values = _values(curve, segments)
    positions = _positions(curve, values)
    if shifted:
        middles = 0.5 * (positions[1:] + positions[:-1])
        sagitta = 0.5 * (values[1:] + values[:-1]) - _curve_at(curve, middles)
        at_knots = 0.5 * (np.append(sagitta, sagitta[-1]) + np.insert(sagitta, 0, sagitta[0]))
        positions = _positions(curve, values + 0.5 * at_knots)
    whole = np.rint(positions).astype(np.int64) + first_position
    if np.any(np.diff(whole) <= 0) or whole[0] < 0 or whole[-1] >= 1 << KNOT_BITS:
        return None
    return whole, values


def fewest(holds: Callable[[int], bool]) -> int | None:
    """The least number of segments for which ``holds`` is true, by growing and stepping back."""
    tried, segments = 0, 1
    while not holds(segments):
        tried, segments = segments, max(segments + 1, int(segments * GROWTH))
        if segments > MOST_SEGMENTS:
            return None
    return next(n for n in range(tried + 1, segments + 1) if holds(n))


def _values(curve: Curve, segments: int) -> NDArray[np.int64]:
    """Whole values at equal steps, from the first of the curve to its last or just beyond."""
    first, total = int(np.rint(curve[0])), float(curve[-1] - np.rint(curve[0]))
    step = int(np.sign(total) * max(1.0, np.ceil(abs(total) / segments)))
    return first + step * np.arange(segments + 1)


def _positions(curve: Curve, values: NDArray[np.float64] | NDArray[np.int64]) -> Curve:
    """Position on the curve of each value; straight on beyond its ends."""
    sign = 1.0 if curve[-1] > curve[0] else -1.0
    rising, wanted, last = sign * curve, sign * values, len(curve) - 1.0
    inside = np.interp(wanted, rising, np.arange(len(curve)))
    before = (wanted - rising[0]) / (rising[1] - rising[0])
    after = last + (wanted - rising[-1]) / (rising[-1] - rising[-2])
    return np.where(before < 0.0, before, np.where(after > last, after, inside))


def _curve_at(curve: Curve, positions: Curve) -> Curve:
    last = len(curve) - 1.0
    inside = np.interp(positions, np.arange(len(curve)), curve)
    over = np.maximum(positions - last, 0.0) * (curve[-1] - curve[-2])
    return np.asarray(inside + over + np.minimum(positions, 0.0) * (curve[1] - curve[0]))
