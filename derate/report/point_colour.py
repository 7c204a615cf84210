"""The colour of an operating point, and ways to share its limits, in rows and words."""

import dataclasses
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from derate.plant.tristimulus import JUST_NOTICED
from derate.report.colour_words import DIGITS, white_numbers, white_words
from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.study.colour_point import Colour, ColourPoint
    from derate.study.point import PointStudy
    from derate.study.sharing import Shared

COLOUR_HEADS = ("\nx", "\ny", "\nu'", "\nv'", "\nCCT K", "\nDuv")
SHARED_HEADS = ("light\nlm", "junction\ndegC", "left\nK", "off\nu'v'", "drive of each\n%")
MIX, ASKED = "mix", "asked"


def colour_rows(colour: "ColourPoint") -> list[tuple[str, ...]]:
    """A row for each lit channel, for the mix of all and for what is asked."""
    return [
        *(_row(name, one) for name, one in colour.channels.items()),
        _row(MIX, colour.mix),
        _row(ASKED, colour.asked),
    ]


def _row(name: str, one: "Colour") -> tuple[str, ...]:
    white = ("-", "-")
    if one.white is not None:
        white = (f"{one.white.cct_k:.0f}", f"{one.white.duv:+.{DIGITS}f}")
    return (name, *(number(value, DIGITS) for value in (*one.xy, *one.uv)), *white)


def colour_words(colour: "ColourPoint") -> str:
    """How far the mix is from what is asked."""
    told = f"mix off by {number(colour.shift, DIGITS)} in u'v' from what is asked"
    if colour.mix.white is not None and colour.asked.white is not None:
        told += f", {white_words(colour.mix.white)} instead of {white_words(colour.asked.white)}"
    return f"{told}; {JUST_NOTICED:g} is just noticed (common practice)"


def shared_rows(study: "PointStudy") -> list[tuple[str, ...]]:
    """A row for each way to share the limits; the drive of each channel in their order."""
    return [tuple(_shared(one)) for one in study.shared]


def _shared(one: "Shared") -> Iterator[str]:
    yield one.way
    yield figures(one.light_lm)
    yield number(one.junction_c)
    yield number(one.margin_k)
    yield number(one.shift, DIGITS)
    yield " / ".join(number(100.0 * duty, 0) for duty in one.duties.values())


def colour_numbers(colour: "ColourPoint | None") -> dict[str, Any] | None:
    """The same for machines; None where colours are not known, or a light is no white."""
    if colour is None:
        return None
    return {
        "channels": {name: _numbers(one) for name, one in colour.channels.items()},
        "mix": _numbers(colour.mix),
        "asked": _numbers(colour.asked),
        "delta_uv": colour.shift,
    }


def _numbers(one: "Colour") -> dict[str, Any]:
    return {**dataclasses.asdict(one), "white": white_numbers(one.white)}
