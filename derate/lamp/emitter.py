"""Emitter: the datasheet curves of one LED type."""

import itertools
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from derate.lamp.ladder import Ladder
from derate.lamp.layer import Film
from derate.lamp.outline import Size
from derate.lamp.part import Part, Price
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Ampere,
    Celsius,
    JoulePerKelvin,
    KelvinPerWatt,
    Lumen,
    Ratio,
    Share,
    Volt,
    VoltPerKelvin,
    Watt,
    check,
)
from derate.lamp.sentence import wrong
from derate.lamp.spectrum import LUMEN_PER_WATT_AT_MOST, Chromaticity, Spectrum

RATIO_SLACK = 0.01  # datasheet curves are read to about a percent

_rising = check(
    lambda values: all(a < b for a, b in itertools.pairwise(values)),
    "values that rise one by one",
)
_two_or_more = check(lambda values: len(values) >= 2, "a list of at least two values")


class Solder(Film):
    """The joint below an emitter's footprint; ``voids`` is the share of it that is empty."""

    like: ClassVar[str] = "sac305"
    voids: Annotated[Share, check(lambda share: share < 1, "less than all of it")] = 0.0


class Emitter(Part):
    """One LED type; curves against current hold at the reference junction temperature.

    From junction to solder point heat flows through one resistance with the chip's capacitance, or
    through a ``ladder``. ``footprint_m`` [m] is the thermal pad by which it stands on a board,
    ``solder`` the joint below it. The colour of its light, where it is known, is given by its
    ``spectrum`` or by its ``chromaticity`` (CIE 1931 x, y).
    """

    current_a: Annotated[tuple[Annotated[Ampere, POSITIVE], ...], _two_or_more, _rising]
    forward_voltage_v: Annotated[tuple[Annotated[Volt, POSITIVE], ...], _rising]
    radiant_flux_w: tuple[Annotated[Watt, POSITIVE], ...]
    luminous_flux_lm: tuple[Annotated[Lumen, NOT_NEGATIVE], ...]
    reference_junction_c: Celsius = 25.0
    forward_voltage_slope_v_per_k: VoltPerKelvin
    junction_c: Annotated[tuple[Celsius, ...], _two_or_more, _rising]
    radiant_ratio: tuple[Annotated[Ratio, POSITIVE], ...] = Field(
        description="a list of ratios, the radiant flux at each junction temperature"
    )
    luminous_ratio: tuple[Annotated[Ratio, POSITIVE], ...] = Field(
        description="a list of ratios, the luminous flux at each junction temperature"
    )
    junction_to_solder_resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE] | None = None
    resistance_convention: Literal["real", "electrical"] = Field(
        description='"real" (heat flow only) or "electrical" (all electrical power)'
    )
    resistance_current_a: Annotated[Ampere, POSITIVE] | None = None
    junction_capacitance_j_per_k: Annotated[JoulePerKelvin, POSITIVE] | None = None
    ladder: Ladder | None = None
    footprint_m: Size | None = None
    solder: Solder | None = None
    spectrum: Spectrum | None = None
    chromaticity: Chromaticity | None = None
    price: Price | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        _transient(self)
        _same_length(self)
        _reference(self)
        _energy(self)
        _convention(self)
        if self.spectrum is not None and self.chromaticity is not None:
            raise wrong("no such key beside spectrum", key=("chromaticity",))
        return self

    @property
    def has_colour(self) -> bool:
        """Whether the file tells the colour of its light."""
        return self.spectrum is not None or self.chromaticity is not None


def _transient(emitter: Emitter) -> None:
    """Either a resistance and a capacitance from junction to solder point, or a ladder."""
    pair = {
        "junction_to_solder_resistance": emitter.junction_to_solder_resistance_k_per_w,
        "junction_capacitance": emitter.junction_capacitance_j_per_k,
    }
    due = {
        "junction_to_solder_resistance": 'a thermal resistance such as "4.2 K/W", or a ladder',
        "junction_capacitance": 'a heat capacity such as "2.5 mJ/K"',
    }
    for key, value in pair.items():
        if emitter.ladder is not None and value is not None:
            raise wrong("no such key beside ladder", key=(key,))
        if emitter.ladder is None and value is None:
            raise wrong(due[key], found="nothing", key=(key,))
    if emitter.solder is not None and emitter.footprint_m is None:
        due_here = 'the area of the solder joint, two lengths such as ["3.3 mm", "3.3 mm"]'
        raise wrong(due_here, found="nothing", key=("footprint",))


def _same_length(emitter: Emitter) -> None:
    for key, values, along, steps in (
        ("forward_voltage", emitter.forward_voltage_v, "current", emitter.current_a),
        ("radiant_flux", emitter.radiant_flux_w, "current", emitter.current_a),
        ("luminous_flux", emitter.luminous_flux_lm, "current", emitter.current_a),
        ("radiant_ratio", emitter.radiant_ratio, "junction", emitter.junction_c),
        ("luminous_ratio", emitter.luminous_ratio, "junction", emitter.junction_c),
    ):
        if len(values) != len(steps):
            due = f'{len(steps)} values, one for each entry of "{along}"'
            raise wrong(due, found=f"{len(values)} values", key=(key,))


def _reference(emitter: Emitter) -> None:
    """The flux ratios mean "against the flux at the reference junction temperature"."""
    at_c = emitter.reference_junction_c
    if not emitter.junction_c[0] <= at_c <= emitter.junction_c[-1]:
        due = f"a list that contains the reference junction temperature {at_c:g} degC"
        raise wrong(due, key=("junction",))
    for key, ratios in (
        ("radiant_ratio", emitter.radiant_ratio),
        ("luminous_ratio", emitter.luminous_ratio),
    ):
        there = float(np.interp(at_c, emitter.junction_c, ratios))
        if abs(there - 1) > RATIO_SLACK:
            due = f"ratios that are 1 at the reference junction temperature {at_c:g} degC"
            raise wrong(due, found=f"{there:.3g} there", key=(key,))


def _energy(emitter: Emitter) -> None:
    """No emitter radiates more than it takes, and no watt of light holds more than 683 lm."""
    for junction_c, radiant, luminous in zip(
        emitter.junction_c, emitter.radiant_ratio, emitter.luminous_ratio, strict=True
    ):
        rise_k = junction_c - emitter.reference_junction_c
        for current_a, voltage_v, radiant_w, luminous_lm in zip(
            emitter.current_a,
            emitter.forward_voltage_v,
            emitter.radiant_flux_w,
            emitter.luminous_flux_lm,
            strict=True,
        ):
            where = f"at {current_a:g} A and {junction_c:g} degC"
            warm_v = voltage_v + emitter.forward_voltage_slope_v_per_k * rise_k
            if warm_v <= 0:
                due = "a slope that leaves the forward voltage above zero"
                raise wrong(due, found=f"{warm_v:.3g} V {where}", key=("forward_voltage_slope",))
            light_w, power_w = radiant_w * radiant, current_a * warm_v
            if light_w >= power_w:
                due = f"less than the electrical power {power_w:.3g} W"
                raise wrong(due, found=f"{light_w:.3g} W {where}", key=("radiant_flux",))
            light_lm, most_lm = luminous_lm * luminous, LUMEN_PER_WATT_AT_MOST * light_w
            if light_lm > most_lm:
                due = f"at most 683 lm for each radiant watt, {most_lm:.4g} lm"
                raise wrong(due, found=f"{light_lm:.4g} lm {where}", key=("luminous_flux",))


def _convention(emitter: Emitter) -> None:
    current_a = emitter.resistance_current_a
    if emitter.resistance_convention == "electrical" and current_a is None:
        due = 'the operating current of the "electrical" resistance, such as "350 mA"'
        raise wrong(due, found="nothing", key=("resistance_current",))
    if current_a is not None and not emitter.current_a[0] <= current_a <= emitter.current_a[-1]:
        due = f"a current within the table, {emitter.current_a[0]:g} to {emitter.current_a[-1]:g} A"
        raise wrong(due, key=("resistance_current",))
