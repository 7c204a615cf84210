"""What the parts of a lamp are made of: materials that it describes or that are built in."""

from typing import TYPE_CHECKING

from derate.lamp.board import Board
from derate.lamp.material import built_in_materials, canonical
from derate.lamp.sentence import Key, Noted, demand_known
from derate.lamp.surface import Fins

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

Named = dict[Key, str | None]


def check_materials(lamp: "Lamp") -> None:
    """Raises the names of materials that no material has."""
    known = list(dict.fromkeys([*lamp.materials, *built_in_materials()]))
    noted = Noted()
    for key, material in named_materials(lamp).items():
        if material is not None and canonical(material) not in known:
            with noted.one():
                demand_known(material, known, "a material", key)
    noted.demand_none()


def named_materials(lamp: "Lamp") -> Named:
    """What each part is made of, as the file names it; None where it need not be told."""
    named: Named = {}
    for name, node in lamp.nodes.items():
        named["nodes", name, "material"] = node.material
    for name, emitter in lamp.emitters.items():
        if emitter.solder is not None:
            named["emitters", name, "solder", "material"] = emitter.solder.material
    for name, surface in lamp.surfaces.items():
        if isinstance(surface, Fins):
            named["surfaces", name, "material"] = surface.material
    if lamp.board is not None:
        named |= _of_board(lamp.board)
    return named


def _of_board(board: Board) -> Named:
    named: Named = {}
    for part in ("copper", "dielectric", "core", "bottom_copper", "interface"):
        if getattr(board, part) is not None:
            named["board", part, "material"] = getattr(board, part).material
    if board.vias is not None:
        named["board", "vias", "fill"] = board.vias.fill
    if board.interface is not None and board.interface.base is not None:
        named["board", "interface", "base", "material"] = board.interface.base.material
    return named
