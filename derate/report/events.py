"""What happened, marked as thin verticals through all panels, with short labels on top."""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from matplotlib.axes import Axes

from derate.report import style
from derate.report.clock import Clock
from derate.report.labels import rows_for
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.loop.run import Happening

MOST_MARKS = 14
MOST_ROWS = 4
MOST_CHARACTERS = 28
KINDS = ("profile", "cutout", "limit", "fault", "cutoff", "throttle")
"""Kinds of happenings, the most telling first: of too many the last are left out."""
Placed = tuple["Happening", str, tuple[int, bool] | None]


class Mark(NamedTuple):
    """A vertical at ``time`` [units of the clock]; its label stands in ``row``, or nowhere (-1)."""

    time: float
    text: str
    row: int
    leftward: bool
    colour: str


def marks(happenings: Sequence["Happening"], clock: Clock, span: float) -> tuple[Mark, ...]:
    """Marks for an axis that spans ``span`` [units of the clock]; labels never overlap.

    What the profile does is named first: other marks give way to it, repetitions before the rest.
    """
    ranked = _by_weight(happenings)[:MOST_MARKS]
    alone = _placed([happening for happening in ranked if happening.kind == "profile"], clock, span)
    while _unnamed(found := _placed(ranked, clock, span)) > _unnamed(alone):
        ranked.pop()
    return tuple(
        Mark(happening.at_s / clock.seconds, text, *(place or (-1, False)), _colour(happening.kind))
        for happening, text, place in found
    )


def in_order(happenings: Sequence["Happening"]) -> list["Happening"]:
    """In order of time; at one time what the profile does stands before what it leads to."""
    return sorted(happenings, key=lambda h: (h.at_s, h.kind != "profile"))


def draw(found: Sequence[Mark], panels: Sequence[Axes], rows: int) -> None:
    """Draw the verticals through every panel and the labels above the first."""
    for number, panel in enumerate(panels):
        size_in = panel.get_position().height * panel.figure.get_figheight()  # type: ignore[union-attr]
        for mark in found:
            level = rows - mark.row - 0.45 if mark.row >= 0 else 0.3
            above_in = 0.0 if number else style.EVENT_GAP_IN + level * style.EVENT_ROW_IN
            up = 1.0 + above_in / size_in
            foot = -style.GAP_IN / size_in if number < len(panels) - 1 else 0.0
            panel.plot(
                (mark.time, mark.time),
                (foot, up),
                transform=panel.get_xaxis_transform(),
                color=mark.colour,
                linewidth=style.EVENT_PT,
                alpha=style.EVENT_FADE,
                clip_on=False,
                zorder=0.5,
            )
            if number == 0 and mark.row >= 0:
                _write(panel, mark, up)


def _write(panel: Axes, mark: Mark, up: float) -> None:
    panel.annotate(
        typeset(mark.text),
        (mark.time, up),
        xycoords=panel.get_xaxis_transform(),
        xytext=(-2.5 if mark.leftward else 2.5, 0),
        textcoords="offset points",
        ha="right" if mark.leftward else "left",
        va="center_baseline",
        fontsize=style.SMALL_PT,
        color=mark.colour,
        bbox={**style.CLEAR, "pad": 0.5},
        annotation_clip=False,
    )


def _by_weight(happenings: Sequence["Happening"]) -> list["Happening"]:
    """The most telling first: what the profile does, then what is new, then what comes again."""
    seen: set[str] = set()
    weights = []
    for happening in in_order(happenings):
        again = happening.kind != "profile" and happening.what in seen
        seen.add(happening.what)
        weights.append((again, KINDS.index(happening.kind), happening.at_s, happening))
    return [weight[-1] for weight in sorted(weights, key=lambda weight: weight[:-1])]


def _placed(happenings: Sequence["Happening"], clock: Clock, span: float) -> list[Placed]:
    """In order of time, each with its label and the row and side of it, None where no room is."""
    shown = in_order(happenings)
    texts = _texts([happening.what for happening in shown])
    per_inch = span / (style.WIDTH_IN - style.LEFT_IN - style.RIGHT_IN)
    times = [happening.at_s / clock.seconds for happening in shown]
    widths = [(style.text_width_in(text, style.SMALL_PT) + 0.1) * per_inch for text in texts]
    places = rows_for(times, widths, MOST_ROWS, span + style.RIGHT_IN * per_inch * 0.9)
    return list(zip(shown, texts, places, strict=True))


def _unnamed(placed: Sequence[Placed]) -> int:
    """How many events of the profile found no room for their label."""
    return sum(place is None and happening.kind == "profile" for happening, _, place in placed)


def _texts(whats: Sequence[str]) -> list[str]:
    """Short labels; what happens several times in a row is named once."""
    return [
        "again" if number and what == whats[number - 1] else _short(what)
        for number, what in enumerate(whats)
    ]


def _short(what: str) -> str:
    return textwrap.shorten(what, MOST_CHARACTERS, placeholder=" ...")


def _colour(kind: str) -> str:
    return style.WARNING if kind in ("limit", "fault", "cutout", "cutoff") else style.SOFT
