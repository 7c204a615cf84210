"""Colour against published values: CIE 1931 and 1976 chromaticities, colour temperatures.

Sources: CIE 015:2018, Colorimetry, and ISO/CIE 11664-2 (standard illuminants); the spectrum locus
from the table of chromaticity coordinates of ISO/CIE 11664-1. The printed values are written down
from memory of these tables, not from the documents at hand; a colour library of its own source
stands beside them at the end.
"""

import colour
import numpy as np
import pytest

from derate.lamp.observer import is_colour, observer
from derate.plant.tristimulus import uv_of, xy_of, xyz_of
from derate.study.white import white_of

PRINTED_4 = 0.6e-4
"""Four decimals are printed; a tenth more for what the inputs were rounded to."""
EQUAL_ENERGY = 5e-5
"""The sums of the tabled functions are not quite the same, 106.865, 106.857 and 106.892."""
TEMPERATURE_K = 2.0
"""Whole kelvins are printed, of x and y rounded to five decimals, which is worth about one more."""
LIBRARY_K = 0.5
"""The library interpolates a table of the locus; it states errors below a kelvin."""
LIBRARY_DUV = 1e-5
SAME = 1e-9
"""The same sums in floating point."""

ILLUMINANTS = {
    "A": ((0.44757, 0.40745), (0.2560, 0.5243), 2856.0),
    "D50": ((0.34567, 0.35851), (0.2092, 0.4881), 5003.0),
    "D65": ((0.31272, 0.32903), (0.1978, 0.4683), 6504.0),
}
"""x, y; u', v'; correlated colour temperature [K] of CIE standard illuminants."""
LOCUS = {
    460: (0.1440, 0.0297),
    520: (0.0743, 0.8338),
    600: (0.6270, 0.3725),
    700: (0.7347, 0.2653),
}
"""x, y of spectral lights by wavelength [nm]."""


@pytest.fixture(scope="module", autouse=True)
def _own_printing():
    """The library changes how numpy prints; that ends with these tests."""
    yield
    np.set_printoptions(legacy=False)


def test_equal_energy_is_the_middle():
    """CIE 015: illuminant E, the same power at every wavelength, has x = y = 1/3."""
    found = xy_of(observer().matching.sum(axis=0))
    np.testing.assert_allclose(found, (1 / 3, 1 / 3), rtol=0, atol=EQUAL_ENERGY)


@pytest.mark.parametrize(("wavelength_nm", "xy"), LOCUS.items())
def test_spectral_lights(wavelength_nm, xy):
    """ISO/CIE 11664-1: chromaticity coordinates of spectral lights, four decimals."""
    row = np.flatnonzero(observer().wavelength_nm == wavelength_nm)[0]
    np.testing.assert_allclose(xy_of(observer().matching[row]), xy, rtol=0, atol=PRINTED_4)


def test_the_eye_sees_555_nm_best():
    """ISO/CIE 11664-1: y is the luminous efficiency V, which is 1 at 555 nm and nowhere more."""
    wavelength_nm, matching = observer()
    assert matching[wavelength_nm == 555, 1] == matching[:, 1].max() == 1.0


@pytest.mark.parametrize("name", ILLUMINANTS)
def test_standard_illuminants(name):
    """CIE 015: u', v' of the illuminants follow from x, y, and their colour temperatures."""
    xy, uv, cct_k = ILLUMINANTS[name]
    found = uv_of(xyz_of(*xy))
    np.testing.assert_allclose(found, uv, rtol=0, atol=PRINTED_4)
    white = white_of(found)
    assert white.cct_k == pytest.approx(cct_k, abs=TEMPERATURE_K)


def test_the_observer_is_that_of_the_library():
    """The table agrees with the colour library's table of the same observer in every value."""
    theirs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    np.testing.assert_array_equal(observer().wavelength_nm, theirs.wavelengths)
    np.testing.assert_array_equal(observer().matching, theirs.values)


@pytest.mark.parametrize("xy", [(0.45, 0.41), (0.35, 0.31), (0.28, 0.30), (0.5, 0.42), (0.38, 0.4)])
def test_temperature_and_distance_as_the_library_finds_them(xy):
    """Colour temperature and Duv agree with the library's (Ohno 2013) on both sides of it."""
    theirs_k, theirs_duv = colour.temperature.uv_to_CCT_Ohno2013(
        colour.UCS_to_uv(colour.XYZ_to_UCS(colour.xy_to_XYZ(np.array(xy))))
    )
    found = white_of(uv_of(xyz_of(*xy)))
    assert found.cct_k == pytest.approx(float(theirs_k), abs=LIBRARY_K)
    assert found.duv == pytest.approx(float(theirs_duv), abs=LIBRARY_DUV)


@pytest.mark.parametrize("xy", [(0.31, 0.33), (0.69, 0.30), (0.16, 0.02)])
def test_coordinates_as_the_library_has_them(xy):
    """u', v' agree with the library's, and what it sees inside the spectrum locus is a colour."""
    theirs = colour.xy_to_Luv_uv(np.array(xy))
    np.testing.assert_allclose(uv_of(xyz_of(*xy)), theirs, rtol=0, atol=SAME)
    assert is_colour(*xy)
    assert not is_colour(xy[0] + 0.6, xy[1])
