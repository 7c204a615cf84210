"""Which stroke each channel or node gets: the colour its name says, else one of the palette."""

import itertools
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from derate.report import style
from derate.report.style import Stroke

if TYPE_CHECKING:
    from derate.loop.run import Result


def strokes(names: Sequence[str]) -> dict[str, Stroke]:
    """A stroke for every name, no two the same; a colour is given once while there are enough.

    Names that say a colour choose first. Dashes follow the order of the names, so that a page
    printed in grey still tells the lines apart.
    """
    spoken: dict[str, str] = {}
    for name in names:
        colour = _spoken(name, spoken.values())
        if colour is not None:
            spoken[name] = colour
    given: dict[str, Stroke] = {}
    for index, name in enumerate(names):
        turn = index + index // len(style.DASHES)
        dash, width_pt = style.DASHES[turn % len(style.DASHES)]
        taken = {*spoken.values(), *(stroke.colour for stroke in given.values())}
        fresh = (c for c in style.PALETTE if c not in taken)
        alike = {stroke.colour for stroke in given.values() if stroke.dash == dash}
        again = (c for c in _every_colour() if c not in alike and c not in spoken.values())
        colour = spoken.get(name) or next(fresh, None) or next(again, style.INK)
        given[name] = Stroke(colour, dash, width_pt)
    return given


def _every_colour() -> Iterable[str]:
    """The palette, then every tone that a name could say."""
    return dict.fromkeys([*style.PALETTE, *itertools.chain(*style.TONES.values())])


def channel_strokes(result: "Result") -> dict[str, Stroke]:
    """The stroke of every channel, the same in every figure."""
    return strokes(list(result.merit.channels))


def _spoken(name: str, taken: Iterable[str]) -> str | None:
    """The colour that a word of the name says; what stands beside "white" says more than it."""
    words = [word.strip("0123456789") for word in name.split("_")]
    for word in sorted(words, key=lambda word: word == "white"):
        for colour in style.TONES.get(word, ()):
            if colour not in taken:
                return colour
    return None
