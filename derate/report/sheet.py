"""A sheet: panels stacked over one time axis, with the events marked through all of them."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import wraps
from typing import TYPE_CHECKING, NamedTuple, ParamSpec

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray

from derate.report import events, style
from derate.report.clock import clock_for
from derate.report.envelope import envelope, thins
from derate.report.labels import spread
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.loop.run import Result

P = ParamSpec("P")
PANEL_IN = style.WIDTH_IN - style.LEFT_IN - style.RIGHT_IN
LEADER_IN = 0.16
Place = tuple[float, float]
HEAD_LEFT_IN = 0.13
FILL_PIECES = 120
"""Fills may be coarser than the lines that bound them."""


class Label(NamedTuple):
    """A name at the right end of a line: text, height of the line's end [data units], colour."""

    text: str
    at: float
    colour: str


@contextmanager
def drawing() -> Iterator[None]:
    """The settings of `style` in force, whatever the user's own are."""
    with matplotlib.rc_context(style.RC):
        yield


def drawn(figure: Callable[P, Figure]) -> Callable[P, Figure]:
    """Decorator: make the figure under the settings of `style`."""

    @wraps(figure)
    def inner(*args: P.args, **kwargs: P.kwargs) -> Figure:
        with drawing():
            return figure(*args, **kwargs)

    return inner


class Sheet:
    """A figure of panels, ``heights_in`` [in] top to bottom, over the time of a result.

    Lines and washes are drawn first, then every panel gets its scale, then its labels.
    ``beneath_in`` [in] is kept free under them for panels with a time axis of their own.
    """

    def __init__(
        self,
        result: "Result",
        heights_in: Sequence[float],
        *,
        head: tuple[str, str] | None = None,
        beneath_in: float = 0.0,
    ) -> None:
        self.time_s: NDArray[np.float64] = result.trace["time_s"]
        span_s = float(self.time_s[-1])
        self.clock = clock_for(span_s)
        found = events.marks(result.happenings, self.clock, span_s / self.clock.seconds)
        rows = 1 + max((mark.row for mark in found), default=-1)
        top_in = style.TOP_IN + rows * style.EVENT_ROW_IN + (style.HEAD_IN if head else 0.0)
        gaps_in = style.GAP_IN * (len(heights_in) - 1)
        self.height_in = top_in + sum(heights_in) + gaps_in + style.BOTTOM_IN + beneath_in
        self.figure = Figure(figsize=(style.WIDTH_IN, self.height_in), facecolor="white")
        self.panels = self._panels(heights_in, top_in)
        events.draw(found, self.panels, rows)
        if head:
            self._write_head(*head)

    def line(
        self,
        panel: Axes,
        value: NDArray[np.float64],
        stroke: style.Stroke,
        *,
        stepped: bool = False,
        rank: float = 2.0,
    ) -> None:
        """Draw a trace, thinned, peaks kept; of two lines the higher ``rank`` lies on top.

        A ``stepped`` trace holds each value until the next row; where it is thinned the rows on
        both sides of a step are kept, and the line goes straight from row to row.
        """
        rows = envelope(value)
        panel.plot(
            self.time_s[rows] / self.clock.seconds,
            value[rows],
            color=stroke.colour,
            linestyle=stroke.dash,
            linewidth=stroke.width_pt,
            drawstyle="steps-post" if stepped and not thins(value) else "default",
            solid_joinstyle="round",
            zorder=rank,
        )

    def between(
        self,
        panel: Axes,
        lower: NDArray[np.float64],
        upper: NDArray[np.float64],
        colour: str,
        *,
        stepped: bool = True,
    ) -> None:
        """Fill between two traces where the upper lies above the lower."""
        above = upper > lower
        edges = np.flatnonzero(above[1:] != above[:-1])
        outlines = (envelope(lower, FILL_PIECES), envelope(upper, FILL_PIECES), edges, edges + 1)
        rows = np.unique(np.concatenate(outlines))
        panel.fill_between(
            self.time_s[rows] / self.clock.seconds,
            lower[rows],
            upper[rows],
            where=list(above[rows]),
            step="post" if stepped and not thins(lower, FILL_PIECES) else None,
            color=colour,
            linewidth=0,
            zorder=1,
        )

    def wash(self, panel: Axes, where: NDArray[np.bool_], colour: str) -> None:
        """Colour the background of a panel while ``where`` holds."""
        edges = np.flatnonzero(np.diff(np.concatenate(([False], where, [False])).astype(int)))
        last = len(self.time_s) - 1
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            span_s = self.time_s[[start, min(end, last)]]
            panel.axvspan(*(span_s / self.clock.seconds), color=colour, linewidth=0, zorder=0)

    def label(self, panel: Axes, labels: Sequence[Label]) -> None:
        """Name the lines at their right end; call it when the scale of the panel is final."""
        low, high = panel.get_ylim()
        height_pt = panel.get_position().height * self.height_in * 72.0
        ends_pt = [
            min(max((label.at - low) / (high - low), 0.0), 1.0) * height_pt for label in labels
        ]
        places_pt = spread(ends_pt, style.TEXT_PT * style.LINE_SPACE, 3.0, height_pt - 2.0)
        for label, end_pt, place_pt in zip(labels, ends_pt, places_pt, strict=True):
            place = (1.0 + LEADER_IN / PANEL_IN, place_pt / height_pt)
            lead(panel, label, (1.0, end_pt / height_pt), place)

    def add_panel(self, foot_in: float, height_in: float) -> Axes:
        """A panel whose foot stands ``foot_in`` [in] above the foot of the figure."""
        return self.figure.add_axes(
            (
                style.LEFT_IN / style.WIDTH_IN,
                foot_in / self.height_in,
                PANEL_IN / style.WIDTH_IN,
                height_in / self.height_in,
            )
        )

    def _panels(self, heights_in: Sequence[float], top_in: float) -> tuple[Axes, ...]:
        """The empty panels, time written under the last one only."""
        panels: list[Axes] = []
        foot_in = self.height_in - top_in + style.GAP_IN
        for height_in in heights_in:
            foot_in -= height_in + style.GAP_IN
            panel = self.add_panel(foot_in, height_in)
            panel.set_xlim(0.0, self.time_s[-1] / self.clock.seconds)
            panel.xaxis.set_major_locator(MultipleLocator(self.clock.tick))
            plain(panel, last=len(panels) == len(heights_in) - 1)
            panels.append(panel)
        panels[-1].set_xlabel(f"time [{self.clock.unit}]", color=style.SOFT, labelpad=2)
        return tuple(panels)

    def _write_head(self, title: str, beneath: str) -> None:
        """A bold title over the panels, and a quiet line beneath it."""
        room_in = style.WIDTH_IN - 2 * HEAD_LEFT_IN
        bold_in = 1.1 * style.text_width_in(title, style.HEAD_PT)
        size_pt = style.HEAD_PT * min(1.0, room_in / bold_in)
        left, top = HEAD_LEFT_IN / style.WIDTH_IN, 1.0 - 0.12 / self.height_in
        self.figure.text(
            left, top, title, fontsize=size_pt, fontweight="bold", color=style.INK, va="top"
        )
        self.figure.text(
            left,
            top - 1.6 * style.HEAD_PT / 72.0 / self.height_in,
            beneath,
            fontsize=style.TEXT_PT,
            color=style.SOFT,
            va="top",
        )


def last_number(value: NDArray[np.float64]) -> float:
    """The last value that is a number, where a line that breaks off has its end; else 0."""
    finite = value[np.isfinite(value)]
    return float(finite[-1]) if len(finite) else 0.0


def name_axis(panel: Axes, quantity: str) -> None:
    """Write quantity and unit of the vertical axis flat above it, where it is read first."""
    panel.set_ylabel(
        typeset(quantity), rotation=0, ha="left", va="bottom", color=style.INK, bbox=style.CLEAR
    )
    size_in = panel.get_position().height * panel.figure.get_figheight()  # type: ignore[union-attr]
    panel.yaxis.set_label_coords(-0.42 / PANEL_IN, 1.0 + 0.085 / size_in)


def plain(panel: Axes, *, last: bool) -> None:
    """Only a foot line and a faint grid."""
    panel.set_facecolor("none")
    for side in ("top", "left", "right"):
        panel.spines[side].set_visible(False)
    panel.spines["bottom"].set_color(style.PALE)
    panel.grid(axis="y", color=style.GRID, linewidth=0.8)
    panel.set_axisbelow(True)
    panel.tick_params(
        colors=style.SOFT, labelsize=style.SMALL_PT, length=0, pad=4, labelbottom=last
    )


def lead(panel: Axes, label: Label, end: Place, place: Place) -> None:
    """The name of a line at ``place``, a thin line from there to the line's ``end``.

    Both are fractions of the panel.
    """
    panel.annotate(
        typeset(label.text),
        end,
        xytext=place,
        xycoords="axes fraction",
        textcoords="axes fraction",
        color=label.colour,
        va="center",
        annotation_clip=False,
        arrowprops={
            "arrowstyle": "-",
            "color": label.colour,
            "linewidth": 0.5,
            "shrinkA": 1.0,
            "shrinkB": 1.0,
            "relpos": (0.0, 0.5),
        },
    )
