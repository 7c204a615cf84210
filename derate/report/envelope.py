"""Long traces thinned for drawing, peaks kept."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

PIECES = 300
"""Stretches of a trace: one is about as wide as a thick line."""


def envelope(value: Array, pieces: int = PIECES) -> Rows:
    """Rows of a trace that draw it as well as all of them.

    Of each of ``pieces`` stretches the first, lowest, highest and last row are kept, those on
    both sides of its largest step, and the first gap (NaN) if there is one; so every extreme and
    every jump is still there and no point is invented. Rows equal to both neighbours add nothing
    and are left out.
    """
    rows = _telling(value, pieces) if thins(value, pieces) else np.arange(len(value))
    kept = value[rows]
    differs = np.concatenate(([True], kept[1:] != kept[:-1], [True]))
    return rows[differs[:-1] | differs[1:]]


def thins(value: Array, pieces: int = PIECES) -> bool:
    """Whether a trace is long enough to be thinned."""
    return len(value) > 4 * pieces


def _telling(value: Array, pieces: int) -> Rows:
    """First, lowest, highest, last row, largest step and first gap of every stretch."""
    length = -(-len(value) // pieces)
    stretches = -(-len(value) // length)
    spare = stretches * length - len(value)
    padded = np.pad(value, (0, spare), mode="edge").reshape(stretches, length)
    gap = np.isnan(padded)
    step = np.nan_to_num(np.abs(np.diff(padded, axis=1, prepend=padded[:, :1])))
    start = np.arange(stretches) * length
    jump = start + step.argmax(axis=1)
    rows = (
        start,
        start + np.where(gap, np.inf, padded).argmin(axis=1),
        start + np.where(gap, -np.inf, padded).argmax(axis=1),
        start + gap.argmax(axis=1),
        start + length - 1,
        np.maximum(jump - 1, 0),
        jump,
    )
    return np.unique(np.minimum(np.concatenate(rows), len(value) - 1))
