"""Light as the standard observer sees it: X, Y, Z of an emitter, chromaticities, their distance.

Tristimulus values are counted per lumen, so that Y = 1 and the plant's luminous flux is the amount:

    X = sum S(w) x(w) / sum S(w) y(w),    Z = sum S(w) z(w) / sum S(w) y(w)

with the relative power S(w) and the colour matching functions x, y, z of the CIE 1931 standard
colorimetric observer over wavelengths 1 nm apart (CIE 015:2018, Colorimetry, section 7). A mixture
is the sum of its parts. Chromaticities (section 7.3 and 8.1 of it):

    x = X / (X + Y + Z)          y = Y / (X + Y + Z)             CIE 1931
    u' = 4 X / (X + 15 Y + 3 Z)  v' = 9 Y / (X + 15 Y + 3 Z)     CIE 1976
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.lamp.emitter import Emitter
from derate.lamp.observer import observer
from derate.lamp.spectrum import NM, Spectrum

Array = NDArray[np.float64]

GRID_K = 0.5
"""Colours are computed at temperatures so far apart and straight between them [K]: a peak moves by
0.5 nm at most from one to the next, which leaves an error of u'v' below 0.0001."""
JUST_NOTICED = 0.002
"""A shift of u'v' that is just noticed side by side [-]; 0.001 to 0.002 is common practice."""


def xyz_per_lumen(emitter: Emitter, junction_c: ArrayLike) -> Array:
    """X, Y, Z of an emitter per lumen (..., 3) at junction temperatures (...) [degC].

    Raises ValueError for an emitter whose colour is not known.
    """
    at_c = np.asarray(junction_c, dtype=float)
    spectrum = emitter.spectrum
    if spectrum is None:
        if emitter.chromaticity is None:
            raise ValueError("neither spectrum nor chromaticity")
        return np.broadcast_to(xyz_of(*emitter.chromaticity), (*at_c.shape, 3))
    if spectrum.peak_shift_m_per_k == 0.0 or not np.isfinite(at_c).any():
        return np.broadcast_to(_xyz(spectrum, 0.0), (*at_c.shape, 3))
    low_c, high_c = np.floor(np.nanmin(at_c) / GRID_K), np.ceil(np.nanmax(at_c) / GRID_K)
    grid_c = GRID_K * np.arange(low_c, high_c + 1)
    shifts_m = spectrum.peak_shift_m_per_k * (grid_c - emitter.reference_junction_c)
    known = np.array([_xyz(spectrum, shift_m) for shift_m in shifts_m])
    return np.stack([np.interp(at_c, grid_c, column) for column in known.T], axis=-1)


def _xyz(spectrum: Spectrum, shift_m: float) -> Array:
    """X, Y, Z (3) per lumen of a spectrum moved along the wavelengths by ``shift_m`` [m]."""
    wavelength_nm, matching = observer()
    power = spectrum.power_at(wavelength_nm - shift_m / NM)
    seen: Array = power @ matching
    return seen / seen[1] if seen[1] > 0.0 else np.full(3, np.nan)


def xyz_of(x: float, y: float) -> Array:
    """X, Y, Z (3) of one lumen of chromaticity x, y."""
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def xy_of(xyz: Array) -> Array:
    """CIE 1931 x, y (..., 2) of X, Y, Z (..., 3); nan of darkness."""
    return _over(xyz[..., :2], xyz.sum(axis=-1))


def uv_of(xyz: Array) -> Array:
    """CIE 1976 u', v' (..., 2) of X, Y, Z (..., 3); nan of darkness."""
    return _over(xyz[..., :2] * (4.0, 9.0), xyz @ np.array([1.0, 15.0, 3.0]))


def distance(uv: Array, other: Array) -> Array:
    """Distance of two chromaticities u', v' (..., 2), delta u'v' [-]."""
    return np.asarray(np.hypot(*np.moveaxis(uv - other, -1, 0)))


def _over(upper: Array, lower: Array) -> Array:
    lit = lower > 0.0
    return np.divide(
        upper, lower[..., None], out=np.full(upper.shape, np.nan), where=lit[..., None]
    )
