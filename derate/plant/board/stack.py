"""The board's layers as plain numbers, and how each one conducts along and across.

Copper lies under the pads only, the dielectric and the core everywhere. The core is cut into
slices, with a sheet of cells on each cut and on both faces of the core: its heat is then injected
and shed exactly at the faces, and in one dimension the resistances add up to thickness over
conductivity and area, whatever the number of slices.
"""

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from derate.lamp.board import Board, Vias
from derate.lamp.lamp import Lamp
from derate.lamp.material import Material
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import Medium, rectangle_on_plate
from derate.plant.surface.bodies import bodies_of, face_of
from derate.plant.surface.exchange import REFERENCE_AIRFLOW, REFERENCE_C, REFERENCE_RISE_K

LEAST_SLICES, MOST_SLICES = 2, 6
SLICE = 1 / 3
"""Slices of the core are about this part of a footprint's side thick, as heat sees them: a core
that conducts less across than along counts as thicker."""

EVENLY = 1e-3
"""A film so poor that heat leaves a plate evenly [W/(m^2 K)]."""

FILM_W_PER_M2_K = 10.0
"""Where heat leaves the board by links alone, patterns are those of a board that sheds this much
over its back: in air, common practice."""


class Slab(NamedTuple):
    """A layer: thickness [m], conductivity along and across [W/(m K)], heat [J/(m^3 K)]."""

    thickness_m: float
    along_w_per_m_k: float
    across_w_per_m_k: float
    heat_j_per_m3_k: float

    @property
    def across_m2_k_per_w(self) -> float:
        """Resistance across the layer times its area [m^2 K/W]."""
        return self.thickness_m / self.across_w_per_m_k


@dataclass(frozen=True)
class Stack:
    """The layers from the top down.

    ``vias_w_per_m_k``: what plated holes add to the conductivity across the core under pads;
    ``exchange_w_per_m2_k``: of the faces "front", "back" and "interface" that are there, the heat
    transfer per area at which the reduced network is exact; ``edges``: the shares of the edge that
    count to these faces.
    """

    copper: Slab
    core: Slab
    dielectric: Slab | None = None
    bottom_copper: Slab | None = None
    vias_w_per_m_k: float = 0.0
    slices: int = LEAST_SLICES
    exchange_w_per_m2_k: dict[str, float] = field(default_factory=dict)
    edges: dict[str, float] = field(default_factory=dict)


def stack_of(lamp: Lamp) -> Stack:
    """The layers of the board of ``lamp``."""
    board = lamp.board
    assert board is not None
    copper = lamp.material(board.copper.material)
    core = _slab(lamp.material(board.core.material), board.core.thickness_m)
    dielectric, bottom = board.dielectric, board.bottom_copper
    vias = _vias(lamp, board.vias, copper.across_w_per_m_k) if board.vias else 0.0
    return Stack(
        copper=_slab(copper, board.copper.thickness_m),
        core=core,
        dielectric=_slab(lamp.material_of(dielectric), dielectric.thickness_m)
        if dielectric
        else None,
        bottom_copper=_slab(lamp.material(bottom.material), bottom.thickness_m) if bottom else None,
        vias_w_per_m_k=vias,
        slices=_slices(lamp, core, vias),
        exchange_w_per_m2_k=_exchange(lamp, board),
        edges={side: 1.0 / len(board.faces) for side in board.faces},
    )


def _vias(lamp: Lamp, vias: Vias, copper_w_per_m_k: float) -> float:
    fill = lamp.material(vias.fill).across_w_per_m_k if vias.fill else 0.0
    return vias_w_per_m_k(vias, copper_w_per_m_k, fill)


def _slab(material: Material, thickness_m: float) -> Slab:
    return Slab(
        thickness_m,
        material.conductivity_w_per_m_k,
        material.across_w_per_m_k,
        material.heat_j_per_m3_k,
    )


def vias_w_per_m_k(vias: Vias, copper_w_per_m_k: float, fill_w_per_m_k: float) -> float:
    """Conductivity that a square grid of plated holes adds across the core [W/(m K)].

        (k_copper pi p (d - p) + k_fill pi (d/2 - p)^2) / pitch^2

    with d the drill [m] and p the plating [m]. The laminate that the holes displace is not taken
    off (FR-4 with usual vias: 0.2 % of their conductivity), nor is their heat capacity added.
    """
    plating_m = min(vias.plating_m, vias.drill_m / 2)
    ring_m2 = math.pi * plating_m * (vias.drill_m - plating_m)
    bore_m2 = math.pi * (vias.drill_m / 2 - plating_m) ** 2
    return (copper_w_per_m_k * ring_m2 + fill_w_per_m_k * bore_m2) / vias.pitch_m**2


def _slices(lamp: Lamp, core: Slab, vias: float) -> int:
    used = [lamp.emitters[channel.emitter] for channel in lamp.channels.values() if channel.at]
    prints = [emitter.footprint_m for emitter in used if emitter.footprint_m]
    if not prints:
        return LEAST_SLICES
    stretch = math.sqrt(core.along_w_per_m_k / (core.across_w_per_m_k + vias))
    slices = round(core.thickness_m * stretch / (SLICE * min(map(min, prints))))
    return min(max(slices, LEAST_SLICES), MOST_SLICES)


def _exchange(lamp: Lamp, board: Board) -> dict[str, float]:
    """What the faces of the board exchange where the plant makes them linear [W/(m^2 K)]."""
    ambient_c, airflow = np.array(REFERENCE_C), np.array(REFERENCE_AIRFLOW)
    found = {}
    for body in bodies_of(lamp):
        side = body.key.removeprefix("board.")
        face = board.faces.get(side) if body.key != side else None
        if face is not None:
            heat_w = body.heat_w(ambient_c + REFERENCE_RISE_K, ambient_c, airflow)
            found[side] = float(heat_w) / (REFERENCE_RISE_K * face_of(board, face).area_m2)
    if board.interface:
        resistance = lamp.area_resistance_m2_k_per_w(board.interface)
        found["interface"] = 1.0 / (resistance + base_m2_k_per_w(lamp))
    return found or {"back": FILM_W_PER_M2_K}


def base_m2_k_per_w(lamp: Lamp) -> float:
    """Resistance times area of the plate that the board is mounted on [m^2 K/W], in series below
    the interface; zero without a plate.

    Across the plate, and spreading from the board, taken as a rectangle of its bounds in the middle
    of the plate, to all of the plate's back. Heat is counted as if it left the board evenly: what
    spreads in the plate below single emitters is left out.
    """
    board = lamp.board
    base = board.interface.base if board and board.interface else None
    if board is None or base is None:
        return 0.0
    material = lamp.material(base.material)
    along, across = material.conductivity_w_per_m_k, material.across_w_per_m_k
    left, bottom, right, top = board.bounds_m
    source = Rectangle(base.size_m[0] / 2, base.size_m[1] / 2, right - left, top - bottom)
    medium = Medium(along, across, base.thickness_m, EVENLY)
    spreading = rectangle_on_plate(base.size_m, source, medium)
    through = base.thickness_m / (across * base.size_m[0] * base.size_m[1])
    return (spreading + through) * source.width_m * source.height_m
