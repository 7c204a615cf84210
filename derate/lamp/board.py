"""Board: the printed circuit board as geometry, layer by layer."""

from typing import Annotated, ClassVar

from pydantic import Field

from derate.lamp.material import Film
from derate.lamp.outline import Position, Size
from derate.lamp.part import Name, Part, Price
from derate.lamp.quantities import (
    POSITIVE,
    Metre,
    MetrePerSecond,
    Ratio,
    Share,
    SquareMetreKelvinPerWatt,
    WattPerMetreKelvin,
    check,
)
from derate.lamp.surface import Facing, Fluid


class Hole(Part):
    """A round hole through the whole board."""

    at: Position = Field(description='a position such as ["5 mm", "5 mm"]')
    diameter_m: Annotated[Metre, POSITIVE]


class Layer(Part):
    """A layer of one material."""

    material: Name = Field(description="the name of a material")
    thickness_m: Annotated[Metre, POSITIVE]


class Copper(Layer):
    """A copper layer; on top it lies only under the pads of emitters."""

    material: Name = "copper"


class Dielectric(Film):
    """The insulation between copper and core, of the whole board."""

    like: ClassVar[str] = "ims_dielectric"


class Vias(Part):
    """Plated holes under the pads, through the core, in a square grid."""

    pitch_m: Annotated[Metre, POSITIVE]
    drill_m: Annotated[Metre, POSITIVE]
    plating_m: Annotated[Metre, POSITIVE]
    fill: Name | None = None


class Base(Part):
    """The plate of the partner that the board is mounted on, for its spreading resistance."""

    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    thickness_m: Annotated[Metre, POSITIVE]
    material: Name = Field(description="the name of a material")


class Interface(Part):
    """What joins the back of the board to the node ``to``: a film, or its area resistance."""

    to: Name = Field(description="the node the board is mounted on")
    name: Name = "interface"
    thickness_m: Annotated[Metre, POSITIVE] | None = None
    material: Name | None = None
    conductivity_w_per_m_k: Annotated[WattPerMetreKelvin, POSITIVE] | None = None
    area_resistance_m2_k_per_w: Annotated[SquareMetreKelvinPerWatt, POSITIVE] | None = None
    base: Base | None = None


class Face(Part):
    """The front or the back of the board where it sheds heat to an ambient (first by default).

    An ``emissivity`` left out is that of the core's material: ask ``lamp.emissivity_of``.
    """

    facing: Facing = Field(description='"side", "up" or "down"')
    fluid: Fluid = "air"
    emissivity: Share | None = None
    airflow_m_per_s: Annotated[MetrePerSecond, POSITIVE] | None = None
    ambient: Name | None = None


class Board(Part):
    """A board given as geometry; positions count from its lower left corner.

    A round board (``diameter_m``) has the position (0, 0) in its centre instead; the corners of an
    ``outline_m`` are positions themselves.
    """

    size_m: Size | None = None
    diameter_m: Annotated[Metre, POSITIVE] | None = None
    outline_m: tuple[Position, ...] | None = None
    cell_m: Annotated[
        Metre, check(lambda cell_m: 0.2e-3 <= cell_m <= 5e-3, "a length from 0.2 mm to 5 mm")
    ] = 1e-3
    holes: tuple[Hole, ...] = ()
    copper: Copper = Field(description='a table such as {thickness = "35 um"}')
    dielectric: Dielectric | None = None
    core: Layer = Field(description="a table with the material and thickness of the core")
    bottom_copper: Copper | None = None
    vias: Vias | None = None
    interface: Interface | None = None
    front: Face | None = None
    back: Face | None = None
    accuracy: Annotated[
        Ratio, check(lambda share: 1e-5 <= share <= 0.2, 'a ratio from "0.001 %" to "20 %"')
    ] = 0.01
    price: Price | None = None
