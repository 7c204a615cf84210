"""The board's layers as plain numbers, and how each one conducts along and across.

Copper lies under the pads only, the dielectric and the core everywhere. The core is cut into
slices, with a sheet of cells on each cut and on both faces of the core: its heat is then injected
and shed exactly at the faces, and in one dimension the resistances add up to thickness over
conductivity and area, whatever the number of slices.
"""

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from derate.lamp.board import Vias
from derate.lamp.lamp import Lamp
from derate.lamp.material import Material

SLICES = 3
"""Slices of the core; see ``tests/plant/board/test_spreading.py`` for what they leave."""
FILM_W_PER_M2_K = 10.0
"""Heat transfer of a face in air where nothing better is known: common practice [W/(m^2 K)]."""


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
    transfer per area at which the reduced network is exact.
    """

    copper: Slab
    core: Slab
    dielectric: Slab | None = None
    bottom_copper: Slab | None = None
    vias_w_per_m_k: float = 0.0
    slices: int = SLICES
    exchange_w_per_m2_k: dict[str, float] = field(default_factory=dict)


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


def stack_of(lamp: Lamp) -> Stack:
    """The layers of the board of ``lamp``."""
    board = lamp.board
    assert board is not None
    copper = lamp.material(board.copper.material)
    dielectric, bottom, vias = board.dielectric, board.bottom_copper, board.vias
    exchange = {name: FILM_W_PER_M2_K for name in ("front", "back") if getattr(board, name)}
    if board.interface:
        exchange["interface"] = 1.0 / lamp.area_resistance_m2_k_per_w(board.interface)
    fill = lamp.material(vias.fill).across_w_per_m_k if vias and vias.fill else 0.0
    return Stack(
        copper=_slab(copper, board.copper.thickness_m),
        core=_slab(lamp.material(board.core.material), board.core.thickness_m),
        dielectric=_slab(lamp.material_of(dielectric), dielectric.thickness_m)
        if dielectric
        else None,
        bottom_copper=_slab(lamp.material(bottom.material), bottom.thickness_m) if bottom else None,
        vias_w_per_m_k=vias_w_per_m_k(vias, copper.across_w_per_m_k, fill) if vias else 0.0,
        exchange_w_per_m2_k=exchange,
    )
