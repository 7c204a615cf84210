"""What a change would do: a changed lamp solved again at the same point."""

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.surface import Box, Fins, Given, Plate
from derate.study.derating import light_lm, permitted
from derate.study.helps import Help, WhatIf
from derate.study.operating import Operating
from derate.study.own_units import instead

HALF, TWICE, LARGER = 0.5, 2.0, 1.25
A_FEW = 0.1
"""Of the fins, as many are added or taken away, one at least."""
MOST_LINKS = 3
"""Links that are tried with half their resistance: those that help most."""
LEAST_K, LEAST_LM = 0.05, 0.5
"""A change that neither cools by this much nor brings as much light is not told [K, lm]."""
HOPELESS_K = 0.1
"""A board of which the adjoint promises less than this [K] is not made."""
AT_ONCE = 2
"""Changed lamps that are solved at the same time."""

Change = tuple[str, dict[str, object]]
"""In words, and as keys of the lamp file."""


def what_ifs(
    lamp: Operating,
    share: float,
    ambient_c: float,
    limiting: str,
    junction: str,
    helps: Sequence[Help],
    doing: Callable[[str], object] = lambda doing: None,
) -> tuple[WhatIf, ...]:
    """Every change that counts, solved again at ``share`` and ``ambient_c`` [degC]; best first.

    ``limiting``, ``junction``: nodes whose change is told; ``helps``: what moves them; ``doing``
    is told what is being done.
    """
    before = _Asked(lamp, share, ambient_c)

    def tried(change: Change) -> WhatIf | None:
        what, changes = change
        doing(f"trying {what}")
        try:
            after = _Asked(lamp.changed(changes), share, ambient_c)
        except InputError:
            return None
        return WhatIf(
            what,
            changes,
            after.at_c(limiting) - before.at_c(limiting),
            after.light_lm - before.light_lm,
            after.permitted_lm - before.permitted_lm,
            after.at_c(junction) - before.at_c(junction),
        )

    with ThreadPoolExecutor(AT_ONCE) as together:
        found = [one for one in together.map(tried, _changes(lamp.lamp, helps)) if one]
    return tuple(sorted(filter(_counts, found), key=_promise))


def _promise(one: WhatIf) -> tuple[float, float]:
    """By the place that limits, to a tenth of a kelvin; then by the junction."""
    if math.isnan(one.limiting_k):
        return math.inf, math.inf
    return round(one.limiting_k, 1), one.junction_k


def _counts(one: WhatIf) -> bool:
    """Whether it cools or brings light, or runs away."""
    cooler_k = -min(one.limiting_k, one.junction_k)
    more_lm = max(one.light_lm, one.permitted_lm)
    return math.isnan(one.limiting_k) or cooler_k >= LEAST_K or more_lm >= LEAST_LM


class _Asked:
    """What a lamp answers at the point."""

    def __init__(self, lamp: Operating, share: float, ambient_c: float) -> None:
        self._lamp, self._rest = lamp, lamp.at(share, ambient_c)
        self.light_lm = light_lm(lamp, share, ambient_c)
        self.permitted_lm = light_lm(lamp, permitted(lamp, ambient_c)[0], ambient_c)

    def at_c(self, node: str) -> float:
        """Temperature of a node [degC]."""
        return float(self._rest.node_c[self._lamp.node(node)])


def _changes(lamp: Lamp, helps: Sequence[Help]) -> Iterator[Change]:
    """Changes worth solving; other boards last, so that the lamp's own is remembered till then."""
    links = {one.key: one for one in helps if one.key.startswith("links.")}
    for one in list(links.values())[:MOST_LINKS]:
        yield from _of_link(lamp, one)
    yield "a second emitter on each pad", _doubled(lamp)
    for name, surface in lamp.surfaces.items():
        yield from _of_surface(lamp, name, surface, helps)
    yield from _of_board(lamp, helps)


def _of_board(lamp: Lamp, helps: Sequence[Help]) -> Iterator[Change]:
    """Changes of the board that the adjoint does not call hopeless: each is a board to be made."""
    board = lamp.board
    if board is None:
        return
    joint, key = board.interface, "board.interface"
    if joint is not None and _hopeful(helps, f"resistance of {joint.name}", 1.0 - HALF):
        parts = {
            "thickness": joint.thickness_m,
            "area_resistance": joint.area_resistance_m2_k_per_w,
        }
        halves = {f"{key}.{part}": HALF * v for part, v in parts.items() if v is not None}
        yield f"half the resistance of {joint.name}", {**halves}
    if _hopeful(helps, "thickness of the core", TWICE - 1.0):
        thickness_m = board.core.thickness_m
        words = instead(lamp, "board.core.thickness", TWICE, f"{1e3 * thickness_m:.6g} mm")
        yield f"core of {words}", {"board.core.thickness": TWICE * thickness_m}
    if board.vias is not None and _hopeful(helps, "vias", TWICE - 1.0):
        pitch = {"board.vias.pitch": board.vias.pitch_m / TWICE**0.5}
        yield "twice as many vias", pitch
    pads = {
        f"channels.{name}.pad": [length * LARGER**0.5 for length in channel.pad_m]
        for name, channel in lamp.channels.items()
        if channel.pad_m is not None
    }
    beneath = ("thickness of the copper", "thickness of the dielectric", "vias")
    if pads and any(_hopeful(helps, what, LARGER - 1.0) for what in beneath):
        yield "pads 25 % larger", {**pads}


def _hopeful(helps: Sequence[Help], what: str, change: float) -> bool:
    """Whether a relative ``change`` of a quantity would count at the present rate."""
    rates_k = [100.0 * abs(one.per_percent_k) for one in helps if one.what == what]
    return max(rates_k, default=0.0) * change >= HOPELESS_K


def _of_link(lamp: Lamp, one: Help) -> Iterator[Change]:
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


def _of_surface(
    lamp: Lamp, name: str, surface: Given | Plate | Fins | Box, helps: Sequence[Help]
) -> Iterator[Change]:
    """A surface of a quarter more area; of fins taller ones, another number, a stronger fan."""
    key = f"surfaces.{name}"
    match surface:
        case Given():
            smaller = surface.resistance_k_per_w / LARGER
            yield f"surface {name} 25 % larger", {f"{key}.resistance": smaller}
        case Fins():
            yield from _of_fins(lamp, f"surface {name}", key, surface, helps)
        case _:
            size = [length * LARGER**0.5 for length in surface.size_m]
            yield f"surface {name} 25 % larger", {f"{key}.size": size}


def _of_fins(
    lamp: Lamp, name: str, key: str, fins: Fins, helps: Sequence[Help]
) -> Iterator[Change]:
    """More fins or fewer, whichever cools."""
    taller_m = LARGER * fins.fin_height_m
    rates = [one.per_percent_k for one in helps if one.key == f"{key}.fins"]
    rate = max(rates, key=abs, default=0.0)
    few = max(1, round(A_FEW * fins.fins))
    other = fins.fins + (few if rate < 0.0 else -few)
    words = instead(lamp, f"{key}.fin_height", LARGER, f"{1e3 * fins.fin_height_m:.6g} mm")
    yield f"{name}: fins of {words}", {f"{key}.fin_height": taller_m}
    if rate and other >= 2:
        yield f"{name}: {other} fins instead of {fins.fins}", {f"{key}.fins": other}
    if fins.fan is not None:
        flow = f"{3600 * fins.fan.flow_m3_per_s:.6g} m^3/h"
        words = instead(lamp, f"{key}.fan.flow", LARGER, flow)
        stronger = LARGER * fins.fan.flow_m3_per_s
        yield f"{name}: a fan of {words}", {f"{key}.fan.flow": stronger}
