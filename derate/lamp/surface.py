"""Surface: what sheds heat from a node to an ambient, by convection and radiation."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from derate.lamp.outline import Size
from derate.lamp.part import Name, Part, Price, whole
from derate.lamp.quantities import (
    POSITIVE,
    CubicMetrePerSecond,
    Kelvin,
    KelvinPerWatt,
    Metre,
    MetrePerSecond,
    Pascal,
    Ratio,
    Share,
    check,
)
from derate.lamp.sentence import nearest, shown, wrong

Facing = Literal["side", "up", "down"]
Fluid = Literal["air", "water"]
_Speed = Annotated[MetrePerSecond, POSITIVE]


class Fan(Part):
    """A fan between its two ends: free delivery and the pressure at which it delivers nothing."""

    flow_m3_per_s: Annotated[CubicMetrePerSecond, POSITIVE]
    pressure_pa: Annotated[Pascal, POSITIVE]


class _Surface(Part):
    """What all kinds share: the node ``of`` sheds heat to the ambient ``to`` (first by default)."""

    of: Name = Field(description="the node that sheds heat")
    to: Name | None = None
    price: Price | None = None


class Given(_Surface):
    """A known resistance at a known rise; it grows as rise^-exponent."""

    kind: Literal["given"] = "given"
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE]
    rise_k: Annotated[Kelvin, POSITIVE]
    exponent: Annotated[
        Ratio, check(lambda ratio: 0 <= ratio < 1, "an exponent from 0 to below 1")
    ] = 0.25


class _Wetted(_Surface):
    """What a surface of known shape adds: its fluid, its finish and the flow along it.

    ``airflow_m_per_s`` is the speed where the profile's airflow is 1. An ``emissivity`` left out is
    that of the material behind the surface: ask ``lamp.emissivity_of``.
    """

    fluid: Fluid = "air"
    emissivity: Share | None = None
    airflow_m_per_s: _Speed | None = None


class Plate(_Wetted):
    """A flat plate; ``size_m`` is [along the flow or height, width], ``faces`` how many shed."""

    kind: Literal["plate"] = "plate"
    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    facing: Facing = Field(description='"side", "up" or "down"')
    faces: Annotated[int, whole(1, 2)] = 1


class Fins(_Wetted):
    """Parallel plate fins on a base; ``size_m`` is [length along the channels, width].

    ``facing`` "side" means upright channels. A ``fan`` blows through the channels.
    """

    kind: Literal["fins"] = "fins"
    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    fins: Annotated[int, whole(2, 1000)] = Field(description="the number of fins")
    fin_height_m: Annotated[Metre, POSITIVE]
    fin_thickness_m: Annotated[Metre, POSITIVE]
    material: Name = Field(description="the name of a material")
    facing: Facing = "side"
    fan: Fan | None = None


class Box(_Wetted):
    """A closed box of upright walls; ``size_m`` is [width, depth, height], outer."""

    kind: Literal["box"] = "box"
    size_m: tuple[
        Annotated[Metre, POSITIVE], Annotated[Metre, POSITIVE], Annotated[Metre, POSITIVE]
    ] = Field(description='three lengths such as ["60 mm", "40 mm", "90 mm"]')


_KINDS = {"given": Given, "plate": Plate, "fins": Fins, "box": Box}


def _kind(value: Any) -> str:
    return value["kind"] if isinstance(value, dict) else value.kind


def _known_kind(value: Any) -> Any:
    if isinstance(value, _Surface):
        return value
    if not isinstance(value, dict):
        raise wrong('a table such as {of = "housing", kind = "plate"}')
    kind = value.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise wrong(f"one of {nearest(kind, _KINDS)}", found=shown(kind), key=("kind",))
    return value


Surface = Annotated[
    Annotated[Given, Tag("given")]
    | Annotated[Plate, Tag("plate")]
    | Annotated[Fins, Tag("fins")]
    | Annotated[Box, Tag("box")],
    Discriminator(_kind),
    BeforeValidator(_known_kind),
]
