"""Limits of places that are no junctions: nodes, solder points, the board itself."""

from typing import TYPE_CHECKING, NamedTuple

from derate.lamp.sentence import Key

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

SOLDER, BOARD = "solder.", "board.hottest"
"""Names of limits that hold for several nodes; no node is called like that."""


class Limited(NamedTuple):
    """The hottest of ``nodes`` may be as hot as ``limit_c`` [degC].

    ``name``: of the node, "solder.CHANNEL" or "board.hottest"; ``key``: where the file states it.
    """

    name: str
    nodes: tuple[str, ...]
    limit_c: float
    key: Key


def limited_places(lamp: "Lamp") -> tuple[Limited, ...]:
    """Every limit of the lamp file but those of junctions.

    The limit of the board holds for its mean and at each of its places that has a name: beneath the
    emitters, where it is hottest, and beneath the sensors.
    """
    found: list[tuple[str, tuple[str, ...], float | None, Key]] = [
        (name, (name,), node.limit_c, ("nodes", name, "limit")) for name, node in lamp.nodes.items()
    ]
    found += [
        (
            f"{SOLDER}{name}",
            tuple(dict.fromkeys(lamp.solder_points(name))),
            channel.solder_limit_c,
            ("channels", name, "solder_limit"),
        )
        for name, channel in lamp.channels.items()
    ]
    if lamp.board is not None:
        places = ("board", *dict.fromkeys(lamp.places()))
        found.append((BOARD, places, lamp.board.limit_c, ("board", "limit")))
    return tuple(
        Limited(name, nodes, limit_c, key)
        for name, nodes, limit_c, key in found
        if limit_c is not None
    )


def limit_words(name: str) -> str:
    """A limited place as a sentence calls it."""
    if name == BOARD:
        return "hottest place of the board"
    return f"solder point of {name.removeprefix(SOLDER)}" if name.startswith(SOLDER) else name
