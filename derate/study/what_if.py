"""What a change would do: a changed lamp solved again at the same point."""

from collections.abc import Iterator, Sequence

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.surface import Box, Fins, Given, Plate
from derate.study.derating import light_lm, permitted
from derate.study.helps import Help, WhatIf
from derate.study.operating import Operating

HALF, TWICE, LARGER = 0.5, 2.0, 1.25
MOST_LINKS = 3
"""Links that are tried with half their resistance: those that help most."""


def what_ifs(
    lamp: Operating,
    share: float,
    ambient_c: float,
    limiting: str,
    junction: str,
    helps: Sequence[Help],
) -> tuple[WhatIf, ...]:
    """Every change that the lamp offers, solved again at ``share`` and ``ambient_c`` [degC].

    ``limiting``, ``junction``: nodes whose change is told; ``helps``: what moves the former.
    """
    before, found = _Asked(lamp, share, ambient_c), []
    for what, changes in _changes(lamp.lamp, helps):
        try:
            after = _Asked(lamp.changed(changes), share, ambient_c)
        except InputError:
            continue
        found.append(
            WhatIf(
                what,
                changes,
                after.at_c(limiting) - before.at_c(limiting),
                after.light_lm - before.light_lm,
                after.permitted_lm - before.permitted_lm,
                after.at_c(junction) - before.at_c(junction),
            )
        )
    return tuple(found)


class _Asked:
    """What a lamp answers at the point."""

    def __init__(self, lamp: Operating, share: float, ambient_c: float) -> None:
        self._lamp, self._rest = lamp, lamp.at(share, ambient_c)
        self.light_lm = light_lm(lamp, share, ambient_c)
        self.permitted_lm = light_lm(lamp, permitted(lamp, ambient_c)[0], ambient_c)

    def at_c(self, node: str) -> float:
        """Temperature of a node [degC]."""
        return float(self._rest.node_c[self._lamp.node(node)])


def _changes(lamp: Lamp, helps: Sequence[Help]) -> Iterator[tuple[str, dict[str, object]]]:
    """Changes in words, and as keys of the lamp file."""
    yield from _of_board(lamp)
    for one in [one for one in helps if one.key.startswith("links.")][:MOST_LINKS]:
        yield from _of_link(lamp, one)
    yield "a second emitter on each pad", _doubled(lamp)
    for name, surface in lamp.surfaces.items():
        yield _larger(name, surface)


def _of_board(lamp: Lamp) -> Iterator[tuple[str, dict[str, object]]]:
    if lamp.board is None:
        return
    joint = lamp.board.interface
    if joint is not None:
        parts = {
            "thickness": joint.thickness_m,
            "area_resistance": joint.area_resistance_m2_k_per_w,
        }
        halves = {f"board.interface.{key}": HALF * v for key, v in parts.items() if v is not None}
        yield "an interface of half the resistance", {**halves}
    yield "a core twice as thick", {"board.core.thickness": TWICE * lamp.board.core.thickness_m}


def _of_link(lamp: Lamp, one: Help) -> Iterator[tuple[str, dict[str, object]]]:
    """Half the resistance of a link, its ladder as a whole."""
    link = one.key.split(".")[1]
    found = next(part for i, part in enumerate(lamp.links) if link in (part.name, str(i)))
    value: object
    if found.ladder is not None:
        value = [HALF * r for r in found.ladder.resistance_k_per_w]
    else:
        value = HALF * (found.resistance_k_per_w or 0.0)
    yield f"half the {one.what}", {one.key: value}


def _doubled(lamp: Lamp) -> dict[str, object]:
    """Twice the parallel branches on the same places, which share the channel's current."""
    changes: dict[str, object] = {}
    for name, channel in lamp.channels.items():
        key = f"channels.{name}"
        changes[f"{key}.parallel"] = 2 * channel.parallel
        if channel.at is not None:
            changes[f"{key}.at"] = [list(at) for at in (*channel.at, *channel.at)]
        elif isinstance(channel.solder_point, tuple):
            changes[f"{key}.solder_point"] = [*channel.solder_point, *channel.solder_point]
        if isinstance(channel.forward_voltage_offset_v, tuple):
            offsets_v = channel.forward_voltage_offset_v
            changes[f"{key}.forward_voltage_offset"] = [*offsets_v, *offsets_v]
    return changes


def _larger(name: str, surface: Given | Plate | Fins | Box) -> tuple[str, dict[str, object]]:
    """A surface of a quarter more area, of fins by their height."""
    key = f"surfaces.{name}"
    match surface:
        case Given():
            smaller = surface.resistance_k_per_w / LARGER
            return f"surface {name} 25 % larger", {f"{key}.resistance": smaller}
        case Fins():
            taller = surface.fin_height_m * LARGER
            return f"fins of {name} 25 % taller", {f"{key}.fin_height": taller}
    size = [length * LARGER**0.5 for length in surface.size_m]
    return f"surface {name} 25 % larger", {f"{key}.size": size}
