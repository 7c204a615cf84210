"""What sheds heat in a lamp, ready to be computed: its surfaces, then the faces of its board."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.board import Board, Face
from derate.lamp.lamp import Lamp
from derate.lamp.outline import area_m2, edges
from derate.lamp.surface import Box, Fins, Given, Plate
from derate.plant.surface import bank, flat
from derate.plant.surface.bank import Bank
from derate.plant.surface.climate import Climate, climate_of
from derate.plant.surface.flat import Flat
from derate.plant.surface.fluid import AIR, FLUIDS, Fluid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Body:
    """One surface of a lamp; ``key``: where the lamp file states it.

    At least ``black_m2`` [m^2] of black surface radiates at the node's temperature; of fins it is
    the floor between them. ``factor`` [-]: on all other heat; ``black_m2`` holds it.
    """

    key: str
    node: str
    ambient: str
    shape: Given | tuple[Flat, ...] | Bank
    fluid: Fluid = AIR
    speed_m_per_s: float | None = None
    black_m2: float = 0.0
    factor: float = 1.0

    @property
    def moved(self) -> bool:
        """Whether airflow changes what it sheds."""
        blown = isinstance(self.shape, Bank) and self.shape.free_m3_per_s is not None
        return blown or self.speed_m_per_s is not None

    def beyond_black_w_per_k(self, climate: Climate) -> Array:
        """Heat per kelvin of rise [W/K] beyond what ``black_m2`` radiates."""
        return self.factor * self._beyond_black_w_per_k(climate)

    def _beyond_black_w_per_k(self, climate: Climate) -> Array:
        match self.shape:
            case Given(resistance_k_per_w=resistance, rise_k=rise, exponent=exponent):
                return np.asarray((climate.rise_k / rise) ** exponent / resistance)
            case Bank():
                return bank.beyond_floor_w_per_k(self.shape, climate)
            case faces:
                return flat.convection_w_per_k(faces, climate, self.speed_m_per_s)

    def heat_w(self, surface_c: Array, ambient_c: Array, airflow: Array) -> Array:
        """Heat [W] from the surface into its ambient by the formulas themselves.

        A surface colder than its ambient takes up by convection what it would shed at the same
        rise, which is not quite right of a lying face.
        """
        rise = surface_c - ambient_c
        climate = climate_of(self.fluid, np.abs(rise), ambient_c, airflow)
        black = climate_of(self.fluid, rise, ambient_c, airflow).radiating_w_per_m2_k
        return np.asarray((self.beyond_black_w_per_k(climate) + self.black_m2 * black) * rise)


def bodies_of(lamp: Lamp) -> tuple[Body, ...]:
    """Surfaces in the order of the file, then the board's front and back where they are given."""
    listed = [_surface(lamp, name) for name in lamp.surfaces]
    board = lamp.board
    for side, face in (("front", board.front), ("back", board.back)) if board else ():
        if board and face:
            listed.append(_face(lamp, board, side, face))
    return tuple(listed)


def _surface(lamp: Lamp, name: str) -> Body:
    part = lamp.surfaces[name]
    key, ambient, factor = f"surfaces.{name}", lamp.outside(part.to), part.heat_factor
    if isinstance(part, Given):
        return Body(key, part.of, ambient, part, factor=factor)
    emissivity = lamp.emissivity_of(part)
    shape: tuple[Flat, ...] | Bank
    match part:
        case Fins():
            shape = _bank(part, emissivity, lamp.material(part.material).conductivity_w_per_m_k)
            black = bank.floor_black_m2(shape)
        case Plate(size_m=(length, width)):
            shape = flat.plate(part.facing, length, width, part.faces)
            black = emissivity * flat.area_m2(shape)
        case Box(size_m=(width, depth, height)):
            shape = flat.box(width, depth, height)
            black = emissivity * flat.area_m2(shape)
    fluid, speed = FLUIDS[part.fluid], part.airflow_m_per_s
    return Body(key, part.of, ambient, shape, fluid, speed, factor * black, factor)


def _bank(part: Fins, emissivity: float, conductivity_w_per_m_k: float) -> Bank:
    return Bank(
        facing=part.facing,
        fins=part.fins,
        length_m=part.size_m[0],
        width_m=part.size_m[1],
        height_m=part.fin_height_m,
        thickness_m=part.fin_thickness_m,
        conductivity_w_per_m_k=conductivity_w_per_m_k,
        emissivity=emissivity,
        speed_m_per_s=part.airflow_m_per_s,
        free_m3_per_s=part.fan.flow_m3_per_s if part.fan else None,
        shut_off_pa=part.fan.pressure_pa if part.fan else 0.0,
    )


def _face(lamp: Lamp, board: Board, side: str, face: Face) -> Body:
    flat_face = face_of(board, face)
    return Body(
        key=f"board.{side}",
        node="board",
        ambient=lamp.outside(face.ambient),
        shape=(flat_face,),
        fluid=FLUIDS[face.fluid],
        speed_m_per_s=face.airflow_m_per_s,
        black_m2=lamp.emissivity_of(face) * flat_face.area_m2,
    )


def face_of(board: Board, face: Face) -> Flat:
    """The shape of a face of the board.

    How the board stands is not known: upright flow and airflow are taken along its longer side,
    which sheds less. The edge of the core sheds as the faces do, half of it with either of two.
    Holes shed nothing.
    """
    if board.diameter_m is not None:
        area, around = math.pi * board.diameter_m**2 / 4.0, math.pi * board.diameter_m
    else:
        area, around = abs(area_m2(board.corners_m)), sum(map(_length_m, edges(board.corners_m)))
    left, low, right, high = board.bounds_m
    along = max(right - left, high - low)
    edge_m2 = board.core.thickness_m * around / len(board.faces)
    return Flat(face.facing, board.open_area_m2 + edge_m2, along, area / around, along)


def _length_m(edge: tuple[tuple[float, float], tuple[float, float]]) -> float:
    return math.dist(*edge)
