"""Spectrum: how an emitter's light is spread over the wavelengths, or its chromaticity alone."""

import itertools
from typing import Annotated, Any, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BeforeValidator, Field, model_validator

from derate.lamp.observer import LEAST_NM, MOST_NM, is_colour, observer
from derate.lamp.part import Part
from derate.lamp.quantities import NOT_NEGATIVE, Metre, MetrePerKelvin, Ratio, check
from derate.lamp.sentence import wrong

NM = 1e-9
LEAST_PEAK_NM, MOST_PEAK_NM = 380.0, 780.0
LEAST_WIDTH_NM, MOST_WIDTH_NM = 2.0, 300.0
MOST_SHIFT_NM_PER_K = 1.0
LUMEN_PER_WATT_AT_MOST = 683.0  # of green light at 555 nm: no spectrum gives more
ALL_NM = np.arange(150.0, 2001.0)
"""Wavelengths at which the whole power of an emitter of light is counted [nm]."""

_peak = check(
    lambda peak_m: LEAST_PEAK_NM <= peak_m / NM <= MOST_PEAK_NM,
    f'a wavelength from {LEAST_PEAK_NM:g} to {MOST_PEAK_NM:g} nm such as "625 nm"',
)
_width = check(
    lambda width_m: LEAST_WIDTH_NM <= width_m / NM <= MOST_WIDTH_NM,
    f'a full width at half maximum from {LEAST_WIDTH_NM:g} to {MOST_WIDTH_NM:g} nm such as "18 nm"',
)
_shift = check(
    lambda shift: abs(shift) <= MOST_SHIFT_NM_PER_K * NM,
    f'at most {MOST_SHIFT_NM_PER_K:g} nm/K such as "0.1 nm/K"',
)
_rising = check(
    lambda values: len(values) >= 2 and all(a < b for a, b in itertools.pairwise(values)),
    "at least two wavelengths that rise one by one",
)


class Spectrum(Part):
    """Relative power over wavelength, at the emitter's reference junction temperature.

    Either a Gaussian in wavelength, ``peak_m`` [m] and full width at half maximum ``width_m`` [m],

        S(w) = exp(-4 ln 2 (w - peak)^2 / width^2)

    or a table: ``power`` [any unit] at ``wavelength_m`` [m], straight between its points and none
    beyond them. ``peak_shift_m_per_k`` [m/K] moves the whole along the wavelengths for each kelvin
    that the junction is warmer than the reference.
    """

    peak_m: Annotated[Metre, _peak] | None = None
    width_m: Annotated[Metre, _width] | None = None
    wavelength_m: Annotated[tuple[Metre, ...], _rising] | None = None
    power: tuple[Annotated[Ratio, NOT_NEGATIVE], ...] | None = Field(
        default=None, description="a list of ratios, the relative power at each wavelength"
    )
    peak_shift_m_per_k: Annotated[MetrePerKelvin, _shift] = 0.0

    @model_validator(mode="after")
    def _agree(self) -> Self:
        shape: dict[str, object] = {"peak": self.peak_m, "width": self.width_m}
        table: dict[str, object] = {"wavelength": self.wavelength_m, "power": self.power}
        due = 'peak and width such as { peak = "625 nm", width = "18 nm" }, or wavelength and power'
        if all(value is None for value in (*shape.values(), *table.values())):
            raise wrong(due, found="neither")
        tabled = self.wavelength_m is not None or self.power is not None
        for key, value in shape.items():
            if tabled and value is not None:
                raise wrong("no such key beside wavelength and power", key=(key,))
        for key, value in (table if tabled else shape).items():
            if value is None:
                raise wrong(due, found="nothing", key=(key,))
        _table(self)
        return self

    def power_at(self, wavelength_nm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Relative power at wavelengths [nm], up to a factor; not all of it underflows."""
        if self.peak_m is not None and self.width_m is not None:
            away = (wavelength_nm - self.peak_m / NM) / (self.width_m / NM)
            exponent = -4.0 * np.log(2.0) * away**2
            return np.asarray(np.exp(exponent - exponent.max()))
        at_nm = np.array(self.wavelength_m or ()) / NM
        return np.interp(wavelength_nm, at_nm, self.power or (), left=0.0, right=0.0)

    @property
    def efficacy_lm_per_w(self) -> float:
        """Luminous efficacy of the radiation [lm/W]: 683 lm/W sum S V / sum S, 1 nm apart."""
        wavelength_nm, matching = observer()
        efficiency = np.interp(ALL_NM, wavelength_nm, matching[:, 1], left=0.0, right=0.0)
        power = self.power_at(ALL_NM)
        return float(LUMEN_PER_WATT_AT_MOST * (power @ efficiency) / power.sum())


def _table(spectrum: Spectrum) -> None:
    """A power for each wavelength, and light that can be seen, looked at 1 nm apart."""
    if spectrum.wavelength_m is None or spectrum.power is None:
        return
    if len(spectrum.power) != len(spectrum.wavelength_m):
        due = f'{len(spectrum.wavelength_m)} values, one for each entry of "wavelength"'
        raise wrong(due, found=f"{len(spectrum.power)} values", key=("power",))
    wavelength_nm, matching = observer()
    if not spectrum.power_at(wavelength_nm) @ matching[:, 1] > 0.0:
        due = f"power above zero between {LEAST_NM:g} and {MOST_NM:g} nm"
        raise wrong(due, found="none", key=("power",))


def _two(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise wrong("two numbers x, y such as [0.31, 0.33]")
    return value


Chromaticity = Annotated[
    tuple[Ratio, Ratio],
    BeforeValidator(_two),
    check(lambda xy: is_colour(*xy), "a chromaticity x, y of visible light such as [0.31, 0.33]"),
]
"""CIE 1931 x, y of light whose spectrum is not known."""
