"""What a lamp file says, in a few lines: its parts, its board, its surfaces, borrowed materials."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from derate.report.cutout_words import cutout_line
from derate.report.sharing import sharing_sentence
from derate.report.words import figures

if TYPE_CHECKING:
    from derate.lamp.board import Board, Interface
    from derate.lamp.lamp import Lamp
    from derate.lamp.layer import Copper, Film
    from derate.lamp.surface import Box, Fins, Given, Plate


def lamp_lines(lamp: "Lamp", title: str) -> Iterator[str]:
    """The parts in one line, then board, interface, surfaces, how the limit is shared, cut-outs,
    and built-in materials used."""
    counts = ((lamp.channels, "channel"), (lamp.nodes, "node"), (lamp.sensors, "sensor"))
    parts = ", ".join(_counted(len(some), what) for some, what in counts)
    yield f"{title}: a lamp with {parts}; profiles: {', '.join(lamp.profiles) or 'none'}"
    if lamp.board is not None:
        yield f"  board: {_board(lamp.board)}"
        for side, face in lamp.board.faces.items():
            words = f"facing {face.facing}, {face.fluid}{_radiating(lamp.emissivity_of(face))}"
            yield f"  {side} of the board: {words}, to {lamp.outside(face.ambient)}"
        if lamp.board.interface is not None:
            yield f"  {lamp.board.interface.name}: {_interface(lamp, lamp.board.interface)}"
    for name, surface in lamp.surfaces.items():
        ends = f"{surface.of} to {lamp.outside(surface.to)}"
        yield f"  surface {name}: {ends}, {_surface(lamp, surface)}"
    if (shared := sharing_sentence(lamp)) is not None:
        yield (
            f"  limit shared: {shared}; a channel may get more than the limit: see the margins of"
            " a run"
        )
    for name, cutout in lamp.cutouts.items():
        yield f"  cut-out {name}: {cutout_line(cutout)}"
    for name in lamp.built_in_used:
        part = lamp.material(name)
        across = part.through_conductivity_w_per_m_k
        through = f" ({across:g} across)" if across != part.conductivity_w_per_m_k else ""
        yield (
            f"  built-in {name}: {part.conductivity_w_per_m_k:g}{through} W/(m*K), "
            f"{part.density_kg_per_m3:g} kg/m^3, {part.specific_heat_j_per_kg_k:g} J/(kg*K); "
            f"{part.source}"
        )


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _mm(length_m: float) -> str:
    return f"{length_m * 1e3:.4g} mm" if length_m >= 1e-3 else f"{length_m * 1e6:.4g} um"


def _by(lengths_m: tuple[float, ...]) -> str:
    return " by ".join(map(_mm, lengths_m))


def _radiating(emissivity: float) -> str:
    return f", emissivity {emissivity:g}" if emissivity else ""


def _film(film: "Film") -> str:
    stuff = film.material or f"{film.conductivity_w_per_m_k:g} W/(m*K)"
    return f"{_mm(film.thickness_m)} {stuff}"


def _board(board: "Board") -> str:
    if board.diameter_m is not None:
        shape = f"{_mm(board.diameter_m)} round"
    else:
        left, low, right, high = board.bounds_m
        shape = _by((right - left, high - low)) + (" outline" if board.outline_m else "")
    layers: list[Copper] = [board.copper, *([board.bottom_copper] if board.bottom_copper else [])]
    copper = " and ".join(f"{_mm(layer.thickness_m)} {layer.material}" for layer in layers)
    film = f", dielectric {_film(board.dielectric)}" if board.dielectric else ", no dielectric"
    core = f", core {_mm(board.core.thickness_m)} {board.core.material}"
    vias = f", vias every {_mm(board.vias.pitch_m)}" if board.vias else ""
    return f"{shape}, {_counted(len(board.holes), 'hole')}; copper {copper}{film}{core}{vias}"


def _interface(lamp: "Lamp", joint: "Interface") -> str:
    film = ""
    if joint.thickness_m is not None:
        stuff = joint.material or f"{joint.conductivity_w_per_m_k:g} W/(m*K)"
        film = f"{_mm(joint.thickness_m)} {stuff}, "
    value = figures(lamp.area_resistance_m2_k_per_w(joint) * 1e6)
    base = joint.base
    plate = ""
    if base is not None:
        plate = f", on a plate of {_by(base.size_m)}, {_mm(base.thickness_m)} {base.material}"
    return f"board to {joint.to}, {film}{value} mm^2*K/W{plate}"


def _surface(lamp: "Lamp", surface: "Given | Plate | Fins | Box") -> str:
    match surface.kind:
        case "given":
            return f"{surface.resistance_k_per_w:g} K/W at {surface.rise_k:g} K"
        case "fins":
            words = (
                f"{surface.fins} fins {_mm(surface.fin_height_m)} high on {_by(surface.size_m)}, "
                f"{surface.material}, {'fan' if surface.fan else surface.fluid}"
            )
        case "plate":
            words = f"plate {_by(surface.size_m)} facing {surface.facing}, {surface.fluid}"
        case _:
            words = f"box {_by(surface.size_m)}, {surface.fluid}"
    return words + _radiating(lamp.emissivity_of(surface))
