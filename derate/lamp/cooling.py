"""What sheds heat, and into what: surfaces and faces of the board against nodes and ambients."""

from typing import TYPE_CHECKING

from derate.lamp.board import Face
from derate.lamp.sentence import Key, demand_known, wrong
from derate.lamp.surface import Box, Fins, Given, Plate

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp


def check_cooling(lamp: "Lamp") -> None:
    """Raises the first disagreement between what sheds heat and the rest of the lamp."""
    fluids: dict[str, tuple[str, Key]] = {}
    for name, surface in lamp.surfaces.items():
        key: Key = ("surfaces", name)
        if surface.of == "board" and lamp.board is not None:
            due = "a node other than the board, which sheds heat by its front and back"
            raise wrong(due, key=(*key, "of"))
        demand_known(surface.of, lamp.nodes, "a node", (*key, "of"))
        if surface.to is not None:
            demand_known(surface.to, lamp.ambients, "an ambient", (*key, "to"))
        if not isinstance(surface, Given):
            _emissivity(lamp, surface, key)
            _one_fluid(fluids, lamp.outside(surface.to), surface.fluid, key)
    for name, face in lamp.board.faces.items() if lamp.board else ():
        key = ("board", name)
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


def _one_fluid(fluids: dict[str, tuple[str, Key]], ambient: str, fluid: str, key: Key) -> None:
    """An ambient is one fluid, whatever it touches."""
    first, where = fluids.setdefault(ambient, (fluid, key))
    if first != fluid:
        due = f'"{first}" as in {".".join(map(str, where))}, since ambient "{ambient}" is one fluid'
        raise wrong(due, found=f'"{fluid}"', key=(*key, "fluid"))
