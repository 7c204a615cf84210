"""The colour of an emitter in the lamp file: what may be written, and what is answered to it."""

import pytest

from derate.errors import InputError
from derate.lamp import Spectrum, load, starter_text

AFTER = 'junction_capacitance = "2.5 mJ/K"\n'
NM = 1e-9
LUMINOUS_SUM = 106.857
"""Sum of V over 1 nm, as ISO/CIE 11664-1 prints it (from memory); 471 wavelengths."""
SUM = 1e-5
"""Relative: six digits are printed."""
SHAPE = 'peak and width such as { peak = "625 nm", width = "18 nm" }, or wavelength and power'
WRONG = {
    'spectrum = { peak = "625 nm" }': ("spectrum.width", f"found nothing, due {SHAPE}"),
    "spectrum = {}": ("spectrum", f"found neither, due {SHAPE}"),
    'spectrum = { peak = "6 um", width = "18 nm" }': (
        "spectrum.peak", 'found "6 um", due a wavelength from 380 to 780 nm such as "625 nm"',
    ),
    'spectrum = { peak = "600 nm", width = "0 nm" }': (
        "spectrum.width",
        'found "0 nm", due a full width at half maximum from 2 to 300 nm such as "18 nm"',
    ),
    'spectrum = { peak = "600 nm", width = "20 nm", peak_shift = "2 nm/K" }': (
        "spectrum.peak_shift", 'found "2 nm/K", due at most 1 nm/K such as "0.1 nm/K"',
    ),
    'spectrum = { peak = "600 nm", wavelength = ["400 nm", "500 nm"], power = [1, 2] }': (
        "spectrum.peak", 'found "600 nm", due no such key beside wavelength and power',
    ),
    'spectrum = { wavelength = ["400 nm", "500 nm"], power = [1] }': (
        "spectrum.power", 'found 1 values, due 2 values, one for each entry of "wavelength"',
    ),
    'spectrum = { wavelength = ["500 nm", "400 nm"], power = [1, 1] }': (
        "spectrum.wavelength",
        'found ["500 nm", "400 nm"], due at least two wavelengths that rise one by one',
    ),
    'spectrum = { wavelength = ["900 nm", "950 nm"], power = [1, 1] }': (
        "spectrum.power", "found none, due power above zero between 360 and 830 nm",
    ),
    'spectrum = { wavelength = ["500.2 nm", "500.4 nm", "500.6 nm"], power = [0, 1, 0] }': (
        "spectrum.power", "found none, due power above zero between 360 and 830 nm",
    ),
    "chromaticity = [0.3]": (
        "chromaticity", "found [0.3], due two numbers x, y such as [0.31, 0.33]",
    ),
    "chromaticity = [0.9, 0.05]": (
        "chromaticity",
        "found [0.9, 0.05], due a chromaticity x, y of visible light such as [0.31, 0.33]",
    ),
    'chromaticity = [0.3, 0.3]\nspectrum = { peak = "500 nm", width = "20 nm" }': (
        "chromaticity", "found [0.3, 0.3], due no such key beside spectrum",
    ),
}  # fmt: skip


def loaded(text, folder):
    """The starter's emitter with lines added."""
    path = folder / "lamp.toml"
    path.write_text(starter_text().replace(AFTER, f"{AFTER}{text}\n"), encoding="utf-8")
    return load(path).emitters["white"]


@pytest.mark.parametrize("text", WRONG)
def test_each_mistake_earns_one_sentence(text, tmp_path):
    """File, key, what was found and what is due, in one sentence and no other."""
    key, told = WRONG[text]
    with pytest.raises(InputError) as caught:
        loaded(text, tmp_path)
    assert caught.value.sentences == (f"{tmp_path / 'lamp.toml'}: emitters.white.{key}: {told}",)


def test_what_is_written_is_read(tmp_path):
    """A bell curve, a table and a chromaticity come as written; without any there is no colour."""
    peaked = loaded(
        'spectrum = { peak = "625 nm", width = "18 nm", peak_shift = "0.06 nm/K" }', tmp_path
    )
    assert peaked.spectrum.peak_m == pytest.approx(625 * NM)
    assert peaked.spectrum.width_m == pytest.approx(18 * NM)
    assert peaked.spectrum.peak_shift_m_per_k == pytest.approx(0.06 * NM)
    tabled = loaded(
        'spectrum = { wavelength = ["0.4 um", "500 nm"], power = [1, "20 %"] }', tmp_path
    )
    assert tabled.spectrum.power == (1.0, 0.2)
    assert tabled.spectrum.wavelength_m == pytest.approx((400 * NM, 500 * NM))
    assert loaded("chromaticity = [0.31, 0.33]", tmp_path).chromaticity == (0.31, 0.33)
    assert not loaded("", tmp_path).has_colour
    assert tabled.has_colour


def test_all_at_555_nm_is_683_lm_for_each_watt():
    """The definition of the lumen: a line at 555 nm has 683 lm/W, equal power to 2 um far less."""
    line = Spectrum(wavelength=[554.5 * NM, 555 * NM, 555.5 * NM], power=[0, 1, 0])
    assert line.efficacy_lm_per_w == pytest.approx(683.0)
    equal = Spectrum(wavelength=[360 * NM, 830 * NM], power=[1, 1])
    assert equal.efficacy_lm_per_w == pytest.approx(683.0 * LUMINOUS_SUM / 471, rel=SUM)


def test_infrared_light_counts_as_power():
    """Half of the power beyond what is seen halves the lumens for each watt."""
    seen = {"wavelength": [540 * NM, 550 * NM, 560 * NM], "power": [0, 1, 0]}
    both = {
        "wavelength": [*seen["wavelength"], 900 * NM, 910 * NM, 920 * NM],
        "power": [0, 1, 0, 0, 1, 0],
    }
    of_seen, of_both = (Spectrum(**one).efficacy_lm_per_w for one in (seen, both))
    assert of_both == pytest.approx(of_seen / 2)
