"""Board: the printed circuit board as geometry, layer by layer."""

from typing import Annotated, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import Field, model_validator

from derate.lamp.hole import Hole, check_holes, circle_m, opening_m
from derate.lamp.layer import Copper, Dielectric, Layer, Vias
from derate.lamp.outline import (
    SAME_M,
    Length,
    Point,
    Position,
    Size,
    Thickness,
    area_m2,
    crosses_itself,
    inside_polygon,
    mm,
    overlap_m2,
)
from derate.lamp.part import MaterialName, Name, Part, Price
from derate.lamp.quantities import (
    POSITIVE,
    Celsius,
    Metre,
    Ratio,
    SquareMetreKelvinPerWatt,
    WattPerMetreKelvin,
    check,
)
from derate.lamp.sentence import wrong
from derate.lamp.surface import Facing, Wetted

MOST_CELLS = 100_000
"""Cells of one sheet; more take minutes and gigabytes, and show no more of the temperatures."""
_LEAST_CELLS_ACROSS = 4


class Base(Part):
    """The plate of the partner that the board is mounted on, for its spreading resistance."""

    size_m: Size = Field(description='two lengths such as ["60 mm", "40 mm"]')
    thickness_m: Thickness = Field(description='a thickness such as "3 mm"')
    material: MaterialName = Field(description="the name of a material")


class Interface(Part):
    """What joins the back of the board to the node ``to``: a film, or its area resistance.

    Of ``area_resistance_m2_k_per_w``, and ``thickness_m`` with either ``material`` or
    ``conductivity_w_per_m_k``, one is given: ask ``lamp.area_resistance_m2_k_per_w``.
    """

    to: Name = Field(description="the node the board is mounted on")
    name: Name = "interface"
    thickness_m: Thickness | None = None
    material: MaterialName | None = None
    conductivity_w_per_m_k: Annotated[WattPerMetreKelvin, POSITIVE] | None = None
    area_resistance_m2_k_per_w: Annotated[SquareMetreKelvinPerWatt, POSITIVE] | None = None
    base: Base | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        film = {"material": self.material, "conductivity": self.conductivity_w_per_m_k}
        given = [key for key, value in film.items() if value is not None]
        if self.area_resistance_m2_k_per_w is not None:
            for key in [*(["thickness"] if self.thickness_m is not None else []), *given]:
                raise wrong("no such key beside area_resistance", key=(key,))
        elif self.thickness_m is None and not given:
            due = 'an area resistance such as "20 mm^2*K/W", or thickness and material of a film'
            raise wrong(due, found="nothing", key=("area_resistance",))
        elif self.thickness_m is None:
            due = f'a thickness such as "100 um" beside {" and ".join(given)}'
            raise wrong(due, found="nothing", key=("thickness",))
        elif len(given) != 1:
            due = 'either a material or a conductivity such as "2 W/(m*K)"'
            raise wrong(due, found="both" if given else "neither", key=("conductivity",))
        return self


class Face(Wetted):
    """The front or the back of the board where it sheds heat to an ambient (first by default)."""

    facing: Facing = Field(description='"side", "up" or "down"')
    ambient: Name | None = None


class Board(Part):
    """A board given as geometry; positions (x, y) [m] count from its lower left corner.

    A round board (``diameter_m``) has the position (0, 0) in its centre instead; the corners of an
    ``outline_m`` are positions themselves. Exactly one of the three gives the shape. ``limit_c``
    [degC] is that of its hottest place, for the sake of a laminate.
    """

    size_m: Size | None = None
    diameter_m: Length | None = None
    outline_m: tuple[Position, ...] | None = None
    cell_m: Annotated[
        Metre, check(lambda cell_m: 0.2e-3 <= cell_m <= 5e-3, "a length from 0.2 mm to 5 mm")
    ] = 1e-3
    holes: tuple[Hole, ...] = ()
    copper: Copper = Field(description='a table such as {thickness = "35 um"}')
    dielectric: Dielectric | None = None
    core: Layer = Field(
        description='a table such as {material = "aluminium_5052", thickness = "1.5 mm"}'
    )
    bottom_copper: Copper | None = None
    vias: Vias | None = None
    interface: Interface | None = None
    front: Face | None = None
    back: Face | None = None
    accuracy: Annotated[
        Ratio, check(lambda share: 1e-5 <= share <= 0.2, 'a ratio from "0.001 %" to "20 %"')
    ] = 0.01
    limit_c: Celsius | None = None
    price: Price | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        _one_shape(self)
        _cells(self)
        check_holes(self.holes, self.rim_m, min(_extent_m(self)), self.where)
        if self.interface is not None and self.back is not None:
            raise wrong("no such key beside interface, which covers the back", key=("back",))
        base = self.interface.base if self.interface else None
        if base is not None:
            extent = _extent_m(self)
            if any(base.size_m[i] < extent[i] - SAME_M for i in (0, 1)):
                due = f"at least the size of the board, {mm(extent[0])} by {mm(extent[1])}"
                raise wrong(due, key=("interface", "base", "size"))
        return self

    @property
    def corners_m(self) -> tuple[Point, ...]:
        """The corners of the outline, none of a round board."""
        if self.size_m is not None:
            x_m, y_m = self.size_m
            return ((0.0, 0.0), (x_m, 0.0), (x_m, y_m), (0.0, y_m))
        return self.outline_m or ()

    @property
    def rim_m(self) -> tuple[Point, ...]:
        """The corners of the outline; a round board counts as a polygon of its area."""
        return circle_m(0.0, 0.0, self.diameter_m) if self.diameter_m else self.corners_m

    @property
    def openings_m(self) -> tuple[tuple[Point, ...], ...]:
        """Corners of what each hole takes out of the board."""
        return tuple(opening_m(hole, self.rim_m) for hole in self.holes)

    @property
    def open_area_m2(self) -> float:
        """Area of a face of the board, holes taken off [m^2]."""
        return abs(area_m2(self.rim_m)) - sum(abs(area_m2(each)) for each in self.openings_m)

    @property
    def where(self) -> str:
        """How positions count, in words: the origin, and how far the board reaches."""
        if self.diameter_m is not None:
            radius = mm(self.diameter_m / 2)
            return f"positions count from the centre of the board, whose radius is {radius}"
        left, low, right, high = self.bounds_m
        reach = f"the board reaches from {mm(left)} to {mm(right)} and from {mm(low)} to {mm(high)}"
        if self.size_m is not None:
            return f"positions count from the lower left corner, {reach}"
        return f"positions count as the corners of the outline do, {reach}"

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """The smallest rectangle around the board: least x, least y, most x, most y."""
        if self.diameter_m is not None:
            radius_m = self.diameter_m / 2
            return -radius_m, -radius_m, radius_m, radius_m
        x_m, y_m = zip(*self.corners_m, strict=True)
        return min(x_m), min(y_m), max(x_m), max(y_m)

    @property
    def faces(self) -> dict[str, Face]:
        """The faces that shed heat to an ambient, by the names "front" and "back"."""
        faces = {"front": self.front, "back": self.back}
        return {name: face for name, face in faces.items() if face is not None}

    def inside(self, x_m: ArrayLike, y_m: ArrayLike) -> NDArray[np.bool_]:
        """Whether positions lie on the board: inside the outline and in no hole."""
        x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
        if self.diameter_m is not None:
            there = np.hypot(x, y) < self.diameter_m / 2
        else:
            there = inside_polygon(x, y, self.corners_m)
        for hole in self.holes:
            there = there & (np.hypot(x - hole.at[0], y - hole.at[1]) > hole.diameter_m / 2)
        return there

    def holds(self, centre_m: Point, size_m: Point) -> bool:
        """Whether a rectangle lies within the outline, holes or not."""
        x_m, y_m = size_m
        if self.diameter_m is not None:
            far = np.hypot(abs(centre_m[0]) + x_m / 2, abs(centre_m[1]) + y_m / 2)
            return bool(far <= self.diameter_m / 2 + SAME_M)
        return x_m * y_m - overlap_m2(self.corners_m, centre_m, size_m) <= SAME_M * (x_m + y_m)


def _extent_m(board: Board) -> tuple[float, float]:
    left, low, right, high = board.bounds_m
    return right - left, high - low


def _one_shape(board: Board) -> None:
    shapes = {"size": board.size_m, "diameter": board.diameter_m, "outline": board.outline_m}
    given = [key for key, value in shapes.items() if value is not None]
    if len(given) != 1:
        due = f"exactly one of {', '.join(shapes)}"
        found = " and ".join(given) or "none of them"
        raise wrong(due, found=found, key=(given[-1] if given else "size",))
    corners = board.outline_m
    if corners is None:
        return
    if len(corners) < 3 or len(set(corners)) < len(corners) or len(corners) > 500:
        due = "from 3 to 500 corners, each given once"
        raise wrong(due, found=f"{len(set(corners))} different ones", key=("outline",))
    if crosses_itself(corners) or abs(area_m2(corners)) <= SAME_M * sum(_extent_m(board)):
        raise wrong("an outline that encloses an area and does not cross itself", key=("outline",))


def _cells(board: Board) -> None:
    x_m, y_m = _extent_m(board)
    coarsest_m = min(x_m, y_m) / _LEAST_CELLS_ACROSS
    if board.cell_m > coarsest_m * (1 + SAME_M):
        due = f"at most a quarter of the board's smaller extent, {mm(coarsest_m)}"
        raise wrong(due, found=mm(board.cell_m), key=("cell",))
    if x_m * y_m > MOST_CELLS * board.cell_m**2:
        finest_m = (x_m * y_m / MOST_CELLS) ** 0.5
        due = f"at least {mm(finest_m)}, so that the board has at most {MOST_CELLS} cells"
        raise wrong(due, found=mm(board.cell_m), key=("cell",))
