"""Layer: sheets of one material, films whose material need not be named, and vias through them."""

from typing import Annotated, ClassVar, Self

from pydantic import BeforeValidator, Field, model_validator

from derate.lamp.outline import Length, Thickness, mm
from derate.lamp.part import MaterialName, Part
from derate.lamp.quantities import POSITIVE, WattPerMetreKelvin
from derate.lamp.sentence import wrong
from derate.lamp.spelling import ounces


class Film(Part):
    """A thin layer whose resistance counts, of a material by name or of a bare conductivity.

    A bare conductivity borrows density and specific heat from the material ``like``.
    """

    like: ClassVar[str]
    thickness_m: Thickness = Field(description='a thickness such as "100 um"')
    material: MaterialName | None = None
    conductivity_w_per_m_k: Annotated[WattPerMetreKelvin, POSITIVE] | None = None

    @model_validator(mode="after")
    def _one_material(self) -> Self:
        given = (self.material is not None) + (self.conductivity_w_per_m_k is not None)
        if given != 1:
            due = 'either a material or a conductivity such as "2.2 W/(m*K)"'
            found = "both" if given else "neither"
            raise wrong(due, found=found, key=("conductivity",))
        return self


class Layer(Part):
    """A layer of one material."""

    material: MaterialName = Field(description="the name of a material")
    thickness_m: Thickness = Field(description='a thickness such as "1.5 mm"')


class Copper(Layer):
    """A copper layer; on top it lies only under the pads of emitters."""

    material: MaterialName = "copper"
    thickness_m: Annotated[Thickness, BeforeValidator(ounces)] = Field(
        description='a thickness such as "35 um" or "1 oz"'
    )


class Dielectric(Film):
    """The insulation between copper and core, all over the board."""

    like: ClassVar[str] = "ims_dielectric"


class Vias(Part):
    """Plated holes under the pads, through the core, in a square grid; empty without ``fill``."""

    pitch_m: Length
    drill_m: Length
    plating_m: Length
    fill: MaterialName | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.drill_m >= self.pitch_m:
            raise wrong(f"less than the pitch, {mm(self.pitch_m)}", key=("drill",))
        if 2 * self.plating_m > self.drill_m:
            raise wrong(f"at most half the drill, {mm(self.drill_m / 2)}", key=("plating",))
        return self
