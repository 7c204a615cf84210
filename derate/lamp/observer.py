"""The eye: the CIE 1931 standard colorimetric observer, 2 degrees, and the colours there are.

The table is that of ISO/CIE 11664-1:2019; its rows are read from ``observer.csv``.
"""

import functools
from importlib import resources
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.outline import inside_polygon

Array = NDArray[np.float64]

LEAST_NM, MOST_NM = 360.0, 830.0
"""Wavelengths that the table reaches [nm]."""


class Observer(NamedTuple):
    """Colour matching functions (n, 3): x, y, z [-] at ``wavelength_nm`` (n) [nm], 1 nm apart."""

    wavelength_nm: Array
    matching: Array


@functools.cache
def observer() -> Observer:
    """The standard observer."""
    text = resources.files("derate.lamp").joinpath("observer.csv").read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line[0].isdigit()]
    table = np.array([[float(value) for value in row.split(",")] for row in rows])
    return Observer(table[:, 0], table[:, 1:])


def is_colour(x: float, y: float) -> bool:
    """Whether light of chromaticity x, y (CIE 1931) can be: a mixture of spectral colours."""
    of_lines = observer().matching
    corners = of_lines[:, :2] / of_lines.sum(axis=1, keepdims=True)
    return bool(inside_polygon(x, y, [(float(a), float(b)) for a, b in corners]))
