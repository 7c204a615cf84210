"""What sheds heat, and into what: surfaces and faces of the board against nodes and ambients."""

from typing import TYPE_CHECKING

from derate.lamp.board import Face
from derate.lamp.sentence import Key, Noted, demand_known, wrong
from derate.lamp.surface import Box, Fins, Given, Plate, Surface

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

Fluids = dict[str, tuple[str, Key]]
"""Ambient -> its fluid, and the key that said so."""


def check_cooling(lamp: "Lamp") -> None:
    """Raises the disagreements between what sheds heat and the rest of the lamp."""
    fluids: Fluids = {}
    noted = Noted()
    for name, surface in lamp.surfaces.items():
        with noted.one():
            _surface(lamp, surface, ("surfaces", name), fluids)
    for name, face in lamp.board.faces.items() if lamp.board else ():
        with noted.one():
            _face(lamp, face, ("board", name), fluids)
    noted.demand_none()


def _surface(lamp: "Lamp", surface: Surface, key: Key, fluids: Fluids) -> None:
    if surface.of == "board" and lamp.board is not None:
        due = "a node other than the board, which sheds heat by its front and back"
        raise wrong(due, key=(*key, "of"))
    demand_known(surface.of, lamp.nodes, "a node", (*key, "of"))
    if surface.to is not None:
        demand_known(surface.to, lamp.ambients, "an ambient", (*key, "to"))
    if not isinstance(surface, Given):
        _emissivity(lamp, surface, key)
        _one_fluid(fluids, lamp.outside(surface.to), surface.fluid, key)


def _face(lamp: "Lamp", face: Face, key: Key, fluids: Fluids) -> None:
    if face.ambient is not None:
        demand_known(face.ambient, lamp.ambients, "an ambient", (*key, "ambient"))
    _emissivity(lamp, face, key)
    _one_fluid(fluids, lamp.outside(face.ambient), face.fluid, key)


def _emissivity(lamp: "Lamp", part: Plate | Fins | Box | Face, key: Key) -> None:
    if part.fluid == "water" or part.emissivity is not None:
        return
    behind = lamp.material_behind(part)
    if behind is None or lamp.material(behind).emissivity is None:
        due = "a ratio from 0 to 1 such as 0.9"
        because = f', as material "{behind}" has none of its own' if behind else ""
        raise wrong(due + because, found="nothing", key=(*key, "emissivity"))


def _one_fluid(fluids: Fluids, ambient: str, fluid: str, key: Key) -> None:
    """An ambient is one fluid, whatever it touches."""
    first, where = fluids.setdefault(ambient, (fluid, key))
    if first != fluid:
        due = f'"{first}" as in {".".join(map(str, where))}, since ambient "{ambient}" is one fluid'
        raise wrong(due, found=f'"{fluid}"', key=(*key, "fluid"))
