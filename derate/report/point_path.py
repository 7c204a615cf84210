"""The way of the heat: from each hottest junction down to the ambient, a stair of temperature."""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import beside, stacked
from derate.report.point_words import closest_channels, cut, place
from derate.report.sheet import drawn
from derate.report.strokes import strokes
from derate.report.words import figures, number, typeset

if TYPE_CHECKING:
    from derate.study.path import HeatPath
    from derate.study.point import PointStudy

STEP_IN = 0.33
BAR = 0.46
"""Height of a bar, as a share of its step."""
LEFT_IN, RIGHT_IN = 2.12, 3.3
HEAD_IN = 0.34
"""Room above each stair for its channel and limit."""
MOST_CHANNELS = 4
MOST_SIGNS = 22
"""Of the name of a place or of what lies between two."""
PALER = 0.42
"""Opacity of the bars that are not the largest."""
COLUMNS_IN = (0.5, 1.06, 1.6, 1.74)
"""Right ends of kelvin, watt and K/W and the left end of the words, right of the panel."""


@drawn
def path_figure(study: "PointStudy") -> Figure:
    """One stair a channel: places on its treads, kelvin and watt beside each step."""
    shown = [one.name for one in closest_channels(study, MOST_CHANNELS)]
    paths = [path for path in study.paths if path.channel in shown]
    limits_c = {one.name: one.limit_c for one in study.channels}
    figure, panels = stacked(
        [STEP_IN * len(path.steps) for path in paths], left_in=LEFT_IN, right_in=RIGHT_IN,
        gap_in=0.2 + HEAD_IN, top_in=0.12 + HEAD_IN,
    )  # fmt: skip
    low_c, high_c = _span_c(study, paths)
    colours = strokes(list(study.requests))
    for path, panel in zip(paths, panels, strict=True):
        panel.set_xlim(low_c, high_c)
        panel.set_ylim(len(path.steps), 0)
        panel.set_yticks([])
        panel.grid(axis="x", color=style.GRID, linewidth=0.8)
        _draw(panel, path, study.ambient_c, colours[path.channel].colour)
        _mark_limit(panel, limits_c[path.channel])
        _head(panel, path)
    panels[-1].set_xlabel(typeset("temperature [degC]"), color=style.SOFT, labelpad=2)
    return figure


def treads_c(path: "HeatPath", ambient_c: float) -> list[float]:
    """Temperature of every place of a path, from the junction down to the ambient [degC]."""
    found = [ambient_c + path.rise_k]
    for step in path.steps:
        found.append(found[-1] - step.drop_k)
    return found


def folded(what: str) -> str:
    """What lies between two places, in two lines where one is too short."""
    return textwrap.fill(what, MOST_SIGNS, max_lines=2, placeholder="\N{HORIZONTAL ELLIPSIS}")


def _draw(panel: Axes, path: "HeatPath", ambient_c: float, colour: str) -> None:
    """Treads with the names of places, between them the drops; the largest one is dark."""
    celsius = treads_c(path, ambient_c)
    left_c = panel.get_xlim()[0]
    places = [place(step.start) for step in path.steps] + [place(path.steps[-1].end)]
    for row, (name, at_c) in enumerate(zip(places, celsius, strict=True)):
        panel.plot([left_c, at_c], [row, row], color=style.PALE, linewidth=0.8, zorder=1,
                   clip_on=False)  # fmt: skip
        panel.plot([at_c], [row], marker="o", markersize=3.2, color=style.INK, zorder=4,
                   clip_on=False)  # fmt: skip
        beside(panel, cut(name, MOST_SIGNS), row, -0.66, align="right")
        beside(panel, f"{number(at_c)} degC", row, -0.06, align="right", color=style.INK)
    largest = max(step.drop_k for step in path.steps)
    for row, step in enumerate(path.steps):
        start_c, end_c = celsius[row], celsius[row + 1]
        panel.barh(
            row + 0.5, end_c - start_c, left=start_c, height=BAR, color=colour, linewidth=0,
            alpha=1.0 if step.drop_k == largest else PALER, zorder=2,
        )  # fmt: skip
        for at_c, reach in ((start_c, (row, row + 0.5)), (end_c, (row + 0.5, row + 1))):
            panel.plot([at_c, at_c], reach, color=colour, linewidth=0.9, zorder=3)
        bold = "bold" if step.drop_k == largest else "normal"
        for text, across_in, align in (
            (f"{number(step.drop_k)} K", COLUMNS_IN[0], "right"),
            (f"{figures(step.heat_w)} W", COLUMNS_IN[1], "right"),
            (figures(step.resistance_k_per_w), COLUMNS_IN[2], "right"),
            (folded(step.what), COLUMNS_IN[3], "left"),
        ):
            beside(panel, text, row + 0.5, across_in, edge=1, align=align, weight=bold)


def _head(panel: Axes, path: "HeatPath") -> None:
    """Whose stair this is, and what the columns beside it say."""
    beside(panel, path.channel, -0.72, -LEFT_IN + 0.13, weight="bold", color=style.INK)
    for text, across_in, align in zip(
        ("drops", "carries", "K/W", "through"), COLUMNS_IN, ("right",) * 3 + ("left",), strict=True
    ):
        beside(panel, text, -0.72, across_in, edge=1, align=align, size_pt=style.SMALL_PT)


def _mark_limit(panel: Axes, limit_c: float) -> None:
    if panel.get_xlim()[0] < limit_c < panel.get_xlim()[1]:
        panel.axvline(
            limit_c, color=style.LIMIT.colour, linestyle=style.LIMIT.dash,
            linewidth=style.LIMIT.width_pt, zorder=1,
        )  # fmt: skip
        panel.annotate(
            typeset(f"limit {limit_c:.0f} degC"), (limit_c, 0), xytext=(0, 4), va="bottom",
            textcoords="offset points", ha="right", fontsize=style.SMALL_PT, color=style.INK,
            annotation_clip=False,
        )  # fmt: skip


def _span_c(study: "PointStudy", paths: "Sequence[HeatPath]") -> tuple[float, float]:
    """The temperatures that all stairs and limits lie within [degC]."""
    low_c = study.ambient_c
    high_c = max([low_c + path.rise_k for path in paths] + [one.limit_c for one in study.channels])
    edge_k = 0.04 * (high_c - low_c)
    return low_c - edge_k, high_c + edge_k
