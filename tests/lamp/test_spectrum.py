"""The colour of an emitter in the lamp file: what may be written, and what is answered to it."""

import pytest

from derate.errors import InputError
from derate.lamp import load, starter_text

AFTER = 'junction_capacitance = "2.5 mJ/K"\n'
NM = 1e-9
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
