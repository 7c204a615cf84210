"""What would help: kelvin for a tenth of each measure, and changed lamps solved again."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import beside, stacked
from derate.report.point_words import LEAST_K, cut, helped, limited, measure_k, measure_words
from derate.report.point_words import what_if_figures as what_if
from derate.report.sheet import drawn, name_axis
from derate.report.words import figures, typeset

if TYPE_CHECKING:
    from derate.study.helps import Help
    from derate.study.point import PointStudy

BAR_IN = 0.27
LEFT_IN, RIGHT_IN = 3.35, 2.3
HEADS = ("junction", "light here", "permitted")
COLUMNS_IN = (0.8, 1.5, 2.2)
"""Right ends of the figures right of the panel."""
MOST_MEASURES = 6
MOST_SIGNS = 52
COOLER, WARMER = style.PALETTE[2], style.WARNING
BAR = 0.6
"""Thickness of a bar, as a share of its row."""
WARMER_SHARE = 0.45
"""Share of the axis for bars of what gets warmer, where there are any."""
ROOM = 0.62
"""Room beyond the longest bar for its figure, as a share of the axis."""


class Bar(NamedTuple):
    """One bar: its name, how much cooler [K], the figure at its end, others at the right."""

    name: str
    cooler_k: float
    figure: str
    beside: tuple[str, ...] = ()


class Group(NamedTuple):
    """Bars that belong together, under one title."""

    title: str
    bars: list[Bar]
    heads: tuple[str, ...] = ()


@drawn
def helps_figure(study: "PointStudy") -> Figure:
    """Bars to the right are kelvin that a place gets cooler, bars to the left warmer."""
    groups = groups_of(study) or [Group("nothing that would help is known", [])]
    figure, panels = stacked(
        [BAR_IN * max(1, len(group.bars)) for group in groups], left_in=LEFT_IN,
        right_in=RIGHT_IN, gap_in=0.62, top_in=0.4, bottom_in=0.12,
    )  # fmt: skip
    warms = any(bar.cooler_k < 0 for group in groups for bar in group.bars)
    for panel, group in zip(panels, groups, strict=True):
        _scale(panel, group.bars, WARMER_SHARE if warms else 0.0)
        _draw(panel, group.bars)
        name_axis(panel, group.title)
        panel.yaxis.set_label_coords(*_corner(panel))
        for head, across_in in zip(group.heads, COLUMNS_IN, strict=False):
            beside(panel, head, -0.85, across_in, edge=1, align="right")
    return figure


def groups_of(study: "PointStudy") -> list[Group]:
    """Measures for each place worth cooling, then the changed lamps."""
    found = [
        Group(_title(place, "by a tenth of each measure"), measure_bars(counting))
        for place, counting in helped(study)
    ]
    if study.what_ifs and study.limit is not None:
        title = _title(limited(study.limit.node), "when the lamp is changed")
        found.append(Group(title, what_if_bars(study), HEADS))
    return found


def measure_bars(counting: "Sequence[Help]") -> list[Bar]:
    """The most effective measures, each in the way that helps."""
    return [
        Bar(measure_words(one), measure_k(one), f"{figures(measure_k(one), 2)} K cooler")
        for one in counting[:MOST_MEASURES]
    ]


def what_if_bars(study: "PointStudy") -> list[Bar]:
    """The changed lamps, in the order of the study; one without a rest has no bar."""
    found = []
    for one in study.what_ifs:
        change_k, junction_k, here, permitted = what_if(one)
        there = np.isfinite(one.limiting_k) and abs(one.limiting_k) >= LEAST_K
        cooler_k = -one.limiting_k if there else 0.0
        found.append(
            Bar(one.what, cooler_k, change_k, (junction_k, f"{here} lm", f"{permitted} lm"))
        )
    return found


def _scale(panel: Axes, bars: Sequence[Bar], warmer: float) -> None:
    """A scale for the bars, ``warmer`` of it left of zero; no axis, each bar says its figure."""
    longest_k = max((abs(bar.cooler_k) for bar in bars), default=0.0) or 1.0
    right_k = (1.0 + ROOM) * longest_k
    panel.set_xlim(-right_k * warmer / (1.0 - warmer), right_k)
    panel.set_ylim(len(bars) - 0.5, -0.5)
    panel.set_yticks([])
    panel.grid(visible=False)
    panel.tick_params(labelbottom=False)
    panel.spines["bottom"].set_visible(False)


def _draw(panel: Axes, bars: Sequence[Bar]) -> None:
    """Bars from zero, each named at the left, its figure at its end."""
    panel.axvline(0.0, color=style.SOFT, linewidth=0.8, zorder=3)
    for row, bar in enumerate(bars):
        colour = COOLER if bar.cooler_k > 0 else WARMER if bar.cooler_k < 0 else style.SOFT
        panel.barh(row, bar.cooler_k, height=BAR, color=colour, linewidth=0, zorder=2)
        beside(panel, cut(bar.name, MOST_SIGNS), row, -LEFT_IN + 0.13, color=style.INK)
        for figure, across_in in zip(bar.beside, COLUMNS_IN, strict=False):
            beside(panel, figure, row, across_in, edge=1, align="right")
        leftward = bar.cooler_k < 0
        panel.annotate(
            typeset(bar.figure), (bar.cooler_k, row), xytext=(-4 if leftward else 4, 0),
            textcoords="offset points", va="center", ha="right" if leftward else "left",
            color=colour, fontweight="bold",
        )  # fmt: skip


def _title(place: str, what: str) -> str:
    return f"change of {place} [K] {what}; cooler is to the right"


def _corner(panel: Axes) -> tuple[float, float]:
    """Where the title of a panel stands: at the left edge of the figure, above the bars."""
    box = panel.get_window_extent()
    dpi = panel.figure.dpi
    return (-LEFT_IN + 0.13) * dpi / box.width, 1.0 + 0.08 * dpi / box.height
