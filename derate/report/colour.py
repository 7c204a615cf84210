"""The colour of a run's mix as a figure."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from derate.plant.tristimulus import JUST_NOTICED
from derate.report import style
from derate.report.colour_words import DIGITS, colour_sentence
from derate.report.headroom import mark_peak
from derate.report.kind import Kind
from derate.report.sheet import PANEL_IN, Label, Sheet, drawn, last_number, name_axis, plain
from derate.report.words import duration, number
from derate.study.colour import ColourCourse

if TYPE_CHECKING:
    from derate.loop.run import Result

NOTICED = (0.5 * JUST_NOTICED, JUST_NOTICED)
NOTICED_WASH = "#eaf0f6"
PATH = style.Stroke(style.PALETTE[0], "-", 1.3)
TIME_IN, PLANE_IN = 1.25, 3.0
ABOVE_IN = 0.5
ROOM_AROUND = 1.25
"""The plane reaches so far beyond the largest shift, and beyond the largest circle."""


def colour_kind(course: ColourCourse) -> Kind["Result"]:
    """The figure of where the mix goes."""
    return Kind(
        "colour",
        "Colour of the mix",
        lambda result: colour_figure(result, course),
        lambda result: (
            "Distance of the mix from what was asked over time, and its way in the plane of u' and "
            f"v'. {colour_sentence(course)}"
        ),
        "What is asked is the mix that the request would give with every emitter at its reference "
        "junction temperature; it stands in the middle of the plane, whatever the scene. The line "
        "is the way of the mix from there; where the request jumps it breaks. Inside the circles, "
        "0.001 and 0.002, a difference is just noticed or not at all (common practice).",
    )


@drawn
def colour_figure(result: "Result", course: ColourCourse) -> Figure:
    """Shift over time; beneath it the way of the mix around what was asked, in u' and v'."""
    sheet = Sheet(result, [TIME_IN], beneath_in=ABOVE_IN + PLANE_IN + style.BOTTOM_IN)
    (over_time,) = sheet.panels
    over_time.axhspan(0.0, JUST_NOTICED, color=NOTICED_WASH, linewidth=0, zorder=0)
    sheet.line(over_time, course.shift, PATH)
    over_time.set_ylim(0.0, ROOM_AROUND * max(course.largest, JUST_NOTICED))
    over_time.yaxis.set_major_locator(MaxNLocator(4))
    mark_peak(over_time, course.largest_s / sheet.clock.seconds, course.largest)
    labels = [
        Label("mix", last_number(course.shift), PATH.colour),
        Label("just noticed", JUST_NOTICED, style.SOFT),
    ]
    sheet.label(over_time, labels)
    name_axis(over_time, "distance from what was asked, delta u'v'")
    plane = sheet.add_panel(style.BOTTOM_IN, PLANE_IN)
    _draw_plane(plane, course)
    return sheet.figure


def _draw_plane(plane: Axes, course: ColourCourse) -> None:
    """The way of the mix, the asked mix in the middle; both axes on one scale."""
    plain(plane, last=True)
    way = course.uv - course.asked_uv
    far = ROOM_AROUND * max(course.largest, NOTICED[-1])
    low, high = _span(way[:, 1], far)
    middle = 0.5 * float(np.nansum(_ends(way[:, 0])))
    half = 0.5 * (high - low) * PANEL_IN / PLANE_IN
    plane.set_ylim(low, high)
    plane.set_xlim(middle - half, middle + half)
    for radius in reversed(NOTICED):
        plane.add_patch(
            Circle((0.0, 0.0), radius, facecolor=NOTICED_WASH, edgecolor=style.PALE, zorder=1)
        )
    plane.plot(*way.T, color=PATH.colour, linewidth=PATH.width_pt, zorder=3)
    plane.plot([0.0], [0.0], marker="s", markersize=5, color=style.INK, zorder=4)
    plane.annotate(
        "asked", (0.0, NOTICED[-1]), xytext=(0, 3), textcoords="offset points", ha="center",
        color=style.INK, fontweight="bold", zorder=5,
    )  # fmt: skip
    _name_largest(plane, way[course.at], course)
    plane.grid(axis="x", color=style.GRID, linewidth=0.8)
    plane.set_xlabel("u' from what was asked", color=style.SOFT, labelpad=2)
    name_axis(plane, "v' from what was asked; the asked mix and what is just noticed around it")


def _name_largest(plane: Axes, at: NDArray[np.float64], course: ColourCourse) -> None:
    """A ring at the largest shift, its words on the side away from what was asked."""
    mark_peak(plane, *at)
    leftward = at[0] < 0.0
    plane.annotate(
        f"{number(course.largest, DIGITS)} at {duration(course.largest_s)}", tuple(at),
        xytext=(-8 if leftward else 8, 0), textcoords="offset points", va="center",
        ha="right" if leftward else "left", color=style.INK, fontweight="bold", zorder=5,
    )  # fmt: skip


def _ends(values: NDArray[np.float64]) -> tuple[float, float]:
    """The least and the largest, the asked mix at 0 among them."""
    return min(float(np.nanmin(values)), 0.0), max(float(np.nanmax(values)), 0.0)


def _span(values: NDArray[np.float64], far: float) -> tuple[float, float]:
    """Ends of an axis that holds values and circles with some room."""
    low, high = _ends(values)
    room = (ROOM_AROUND - 1.0) * far + NOTICED[-1]
    return low - room, high + room
