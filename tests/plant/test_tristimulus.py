"""Tristimulus values of emitters, chromaticities and whites."""

import colour
import numpy as np
import pytest

from derate.plant.tristimulus import distance, uv_of, xy_of, xyz_of, xyz_per_lumen
from derate.study.white import white_of
from tests.study.colours import NM, emitter, peaked

SAME = 1e-12
"""The same sums in floating point."""
TABLED = 1e-5
"""A bell curve against a table of it: straight pieces of half a nanometre."""
STRAIGHT = 1e-4
"""What is said of the straight pieces between the temperatures at which colours are computed."""


@pytest.fixture(scope="module", autouse=True)
def _own_printing():
    """The library changes how numpy prints; that ends with these tests."""
    yield
    np.set_printoptions(legacy=False)


@pytest.mark.parametrize("shape", [(450, 20), (525, 32), (626, 18), (590, 120)])
def test_a_bell_curve_is_that_of_the_library(shape):
    """X, Y, Z per lumen are those of the colour library for a Gaussian of that width."""
    visible = colour.SpectralShape(360, 830, 1)
    theirs = colour.sd_to_XYZ(
        colour.sd_gaussian(*shape, visible, method="FWHM"),
        cmfs=colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"],
        illuminant=colour.sd_ones(visible),
        method="Integration",
    )
    found = xyz_per_lumen(emitter(spectrum=peaked(*shape)), 60.0)
    np.testing.assert_allclose(found, theirs / theirs[1], rtol=SAME)


def test_half_of_the_peak_is_reached_at_half_the_width():
    """The width is the full width at half maximum, so a table of that curve is the same light."""
    wavelength_nm = np.arange(400.0, 700.5, 0.5)
    power = 0.5 ** ((wavelength_nm - 540.0) / 15.0) ** 2
    table = {"wavelength": (wavelength_nm * NM).tolist(), "power": power.tolist()}
    assert power[wavelength_nm == 555.0] == 0.5
    curve, tabled = (
        uv_of(xyz_per_lumen(emitter(spectrum=one), 25.0)) for one in (peaked(540, 30), table)
    )
    assert distance(curve, tabled) < TABLED


@pytest.mark.parametrize("tabled", [False, True])
def test_a_peak_shifts_with_the_junction(tabled):
    """At the reference nothing shifts; 50 K above it the peak has moved by 50 times the shift."""
    shapes = [peaked(620, 20), peaked(625, 20)]
    if tabled:
        shapes = [
            {"wavelength": [(p - 20) * NM, p * NM, (p + 20) * NM], "power": [0, 1, 0]}
            for p in (620, 625)
        ]
    moving = emitter(spectrum=shapes[0] | {"peak_shift": 0.1 * NM})
    for at_c, shape in ((25.0, shapes[0]), (75.0, shapes[1])):
        wanted = xyz_per_lumen(emitter(spectrum=shape), 25.0)
        np.testing.assert_allclose(xyz_per_lumen(moving, at_c), wanted, rtol=1e3 * SAME)


@pytest.mark.parametrize("peak_nm", [460, 475, 480, 485, 500, 525, 590])
def test_colours_between_the_computed_ones(peak_nm):
    """Between two computed temperatures even the narrowest, quickest line errs below 0.0001."""
    moving = emitter(spectrum=peaked(peak_nm, 2, peak_shift=NM))
    still = emitter(spectrum=peaked(peak_nm + 10.25, 2))
    between = uv_of(xyz_per_lumen(moving, np.array([35.25])))[0]
    assert 0.0 < distance(between, uv_of(xyz_per_lumen(still, 25.0))) < STRAIGHT


def test_a_chromaticity_stays():
    """An emitter given by x, y has them at every temperature, and Y = 1 per lumen."""
    xyz = xyz_per_lumen(emitter(chromaticity=[0.31, 0.33]), np.array([20.0, 90.0]))
    np.testing.assert_allclose(xy_of(xyz), [[0.31, 0.33]] * 2, rtol=SAME)
    np.testing.assert_allclose(xyz[:, 1], 1.0, rtol=SAME)


def test_no_colour_is_no_number():
    """An emitter without a colour is refused; darkness has no chromaticity and is no white."""
    with pytest.raises(ValueError, match="neither spectrum nor chromaticity"):
        xyz_per_lumen(emitter(), 25.0)
    dark = np.zeros(3)
    assert np.isnan(xy_of(dark)).all()
    assert white_of(uv_of(dark)) is None


def test_only_what_is_nearly_white_has_a_temperature():
    """No temperature for a red, a green and a blue; above the locus Duv is positive."""
    for xy in ((0.69, 0.30), (0.17, 0.70), (0.15, 0.04)):
        assert white_of(uv_of(xyz_of(*xy))) is None
    assert white_of(uv_of(xyz_of(0.35, 0.38))).duv > 0.0 > white_of(uv_of(xyz_of(0.35, 0.33))).duv
