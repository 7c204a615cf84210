"""Surface: what sheds heat from a node to an ambient, by convection and radiation."""

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from derate.lamp.outline import Length, Room, Size, Thickness
from derate.lamp.part import MaterialName, Name, Part, Price, whole
from derate.lamp.quantities import (
    POSITIVE,
    CubicMetrePerSecond,
    Kelvin,
    KelvinPerWatt,
    MetrePerSecond,
    Pascal,
    Ratio,
    Share,
    check,
)
from derate.lamp.sentence import nearest, shown, wrong

FASTEST_M_PER_S = 50.0
"""Beyond this speed [m/s] air is no cooling air any more and warms by its own friction."""

Facing = Literal["side", "up", "down"]


class Wetted(Part):
    """What touches a solid surface, and how it radiates.

    ``airflow_m_per_s`` [m/s] is the speed along it where the profile's airflow is 1. Water lets no
    heat radiation through. An ``emissivity`` left out is that of the material behind the surface:
    ask ``lamp.emissivity_of``.
    """

    fluid: Literal["air", "water"] = "air"
    emissivity: Share | None = None
    airflow_m_per_s: (
        Annotated[
            MetrePerSecond,
            POSITIVE,
            check(lambda speed: speed <= FASTEST_M_PER_S, f"at most {FASTEST_M_PER_S:g} m/s"),
        ]
        | None
    ) = None

    @model_validator(mode="after")
    def _radiates_in_air(self) -> Self:
        if self.fluid == "water" and self.emissivity is not None:
            raise wrong("no such key, as water lets no radiation through", key=("emissivity",))
        return self


class Shedding(Part):
    """What all kinds share: node ``of`` sheds heat to ambient ``to``, the first unless given.

    ``heat_factor`` [-] on all its heat, for what one unit, or the bench, sheds more or less.
    """

    of: Name = Field(description="the node that sheds heat")
    to: Name | None = None
    heat_factor: Annotated[
        Ratio, check(lambda factor: 0.01 <= factor <= 100, "a factor from 0.01 to 100")
    ] = 1.0
    price: Price | None = None


class Given(Shedding):
    """A known resistance at a known rise; it grows as rise^-exponent."""

    kind: Literal["given"] = "given"
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE]
    rise_k: Annotated[
        Kelvin, check(lambda rise_k: 0.1 <= rise_k <= 1000, 'a rise from "0.1 K" to "1000 K"')
    ]
    exponent: Annotated[
        Ratio, check(lambda ratio: 0 <= ratio < 1, "an exponent from 0 to below 1")
    ] = 0.25


class Plate(Shedding, Wetted):
    """A flat plate; ``size_m`` is [along the flow or height, width], ``faces`` how many shed."""

    kind: Literal["plate"] = "plate"
    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    facing: Facing = Field(description='"side", "up" or "down"')
    faces: Annotated[int, whole(1, 2)] = 1


class Fan(Part):
    """A fan by its free delivery and its shut-off pressure, where the profile's airflow is 1."""

    flow_m3_per_s: Annotated[CubicMetrePerSecond, POSITIVE]
    pressure_pa: Annotated[Pascal, POSITIVE]


class Fins(Shedding, Wetted):
    """Parallel plate fins on a base; ``size_m`` is [length along the channels, width].

    ``facing`` "side" means upright channels. A ``fan`` blows through the channels.
    """

    kind: Literal["fins"] = "fins"
    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    fins: Annotated[int, whole(2, 1000)] = Field(description="the number of fins")
    fin_height_m: Length
    fin_thickness_m: Thickness = Field(description='a thickness such as "1.5 mm"')
    material: MaterialName = Field(description="the name of a material")
    facing: Facing = "side"
    fan: Fan | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        solid_m, width_m = self.fins * self.fin_thickness_m, self.size_m[1]
        if solid_m >= width_m:
            due = f"fins that leave some of the width of {width_m * 1e3:g} mm open"
            found = f"{self.fins} fins of {self.fin_thickness_m * 1e3:g} mm"
            raise wrong(due, found=found, key=("fins",))
        if self.fan is not None and self.airflow_m_per_s is not None:
            raise wrong("no such key beside airflow", key=("fan",))
        if self.fan is not None and self.fluid != "air":
            raise wrong("no such key, as a fan moves air", key=("fan",))
        return self


class Box(Shedding, Wetted):
    """A closed box of upright walls; ``size_m`` is [width, depth, height], outer."""

    kind: Literal["box"] = "box"
    size_m: Room = Field(description='three lengths such as ["60 mm", "40 mm", "90 mm"]')


_KINDS = {"given": Given, "plate": Plate, "fins": Fins, "box": Box}


def _kind(value: Any) -> str:
    """The tag of a kind, in brackets: it must differ from any key, and fins have a key "fins"."""
    return f"({value['kind'] if isinstance(value, dict) else value.kind})"


def _known_kind(value: Any) -> Any:
    if isinstance(value, Shedding):
        return value
    if not isinstance(value, dict):
        raise wrong('a table such as {of = "housing", kind = "plate"}')
    kind = value.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise wrong(f"one of {nearest(kind, _KINDS)}", found=shown(kind), key=("kind",))
    return value


Surface = Annotated[
    Annotated[Given, Tag("(given)")]
    | Annotated[Plate, Tag("(plate)")]
    | Annotated[Fins, Tag("(fins)")]
    | Annotated[Box, Tag("(box)")],
    Discriminator(_kind),
    BeforeValidator(_known_kind),
]
