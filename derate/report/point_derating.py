"""The derating curve: how much may be driven in each ambient, and which limit says so."""

import itertools
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.report import style
from derate.report.point_panel import HERE, asked, stacked
from derate.report.point_words import celsius, limited, whole_percent
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, note, raised
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.study.derating import Derating
    from derate.study.point import PointStudy

HEIGHTS_IN = (2.5, 1.2)
ABOVE_IN = 0.18
"""Room for the figure of the point between a panel and its name."""
GAP_IN = 0.66
GROUNDS = ("#f4e1b5", "#d3e2ee", "#dbe8d0", "#e4d5e2", "#ecdccd", "#d8dee6")
"""Grounds beneath the curve, one for each limit that acts, light enough for words on them."""
FULL_GROUND = "#eef1f4"
CURVE = style.Stroke(style.INK, "-", 2.0)
LIGHT = style.Stroke(style.PALETTE[1], "-", 1.6)
BEYOND_K = 6.0
"""Shown beyond the ambient from which nothing is permitted."""
EDGE = 0.12
"""A point nearer to an end of the axis than this share of it has its words on one side."""
LEAST_SHARE = 0.14
"""A stretch narrower than this share of the axis is named beside the panel."""


class Stretch(NamedTuple):
    """Ambients [degC] over which one limit acts; "" stands for full drive."""

    acting: str
    start_c: float
    end_c: float


@drawn
def derating_figure(study: "PointStudy") -> Figure:
    """Permitted share of full drive, beneath it the light, both against the ambient."""
    curve = study.derating
    figure, (share, light) = stacked(HEIGHTS_IN, gap_in=GAP_IN, top_in=style.TOP_IN + ABOVE_IN)
    low_c, high_c = shown_c(curve, study.ambient_c)
    for panel in (share, light):
        panel.set_xlim(low_c, high_c)
        panel.axvline(study.ambient_c, color=HERE, linewidth=0.9, zorder=3)
    share.set_ylim(0, 105)
    _draw_grounds(share, curve)
    across_c, permitted = with_corners(curve)
    share.plot(
        across_c, 100 * permitted, color=CURVE.colour, linewidth=CURVE.width_pt,
        zorder=4,
    )  # fmt: skip
    light.plot(
        curve.ambient_c, curve.light_lm, color=LIGHT.colour, linewidth=LIGHT.width_pt, zorder=4
    )
    seen = (curve.ambient_c >= low_c) & (curve.ambient_c <= high_c)
    light.set_ylim(0, 1.12 * float(np.max(curve.light_lm[seen], initial=1.0)))
    _mark_here(share, study, 100 * curve.here, f"permitted {whole_percent(curve.here)}")
    _mark_here(light, study, curve.here_lm, f"{curve.here_lm:.0f} lm")
    most = max(study.requests.values())
    if most < 1.0:
        asked(share, study.ambient_c, 100 * most, f"asked {whole_percent(most)}")
        if math.isfinite(study.power.light_lm):
            light_lm = study.power.light_lm
            asked(light, study.ambient_c, light_lm, f"asked {light_lm:.0f} lm")
    name_axes(share, None, "permitted of full drive [%]; the ground says which limit acts")
    name_axes(light, "ambient at rest [degC]", "light that is permitted [lm]")
    for panel in (share, light):
        panel.yaxis.set_label_coords(*raised(panel, ABOVE_IN))
    return figure


def with_corners(curve: "Derating") -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The curve with the ambients where full drive ends and where nothing is left put in."""
    corners = [
        (at_c, share)
        for at_c, share in ((curve.full_until_c, 1.0), (curve.dark_from_c, 0.0))
        if math.isfinite(at_c)
    ]
    across_c = np.append(curve.ambient_c, [at_c for at_c, _ in corners])
    permitted = np.append(curve.permitted, [share for _, share in corners])
    order = np.argsort(across_c, kind="stable")
    return across_c[order], permitted[order]


def stretches(curve: "Derating") -> list[Stretch]:
    """Where each limit acts, from cold to hot; neighbours meet half way."""
    found = []
    ends = [*(0.5 * (curve.ambient_c[1:] + curve.ambient_c[:-1])), curve.ambient_c[-1]]
    start_c = float(curve.ambient_c[0])
    for acting, rows in itertools.groupby(range(len(ends)), key=lambda row: curve.acting[row]):
        end_c = float(ends[list(rows)[-1]])
        found.append(Stretch(acting, start_c, end_c))
        start_c = end_c
    return found


def shown_c(curve: "Derating", ambient_c: float) -> tuple[float, float]:
    """The ambients worth seeing: from the coldest to a little beyond where nothing is permitted."""
    last_c = float(curve.ambient_c[-1])
    if math.isfinite(curve.dark_from_c):
        last_c = min(last_c, curve.dark_from_c + BEYOND_K)
    return min(float(curve.ambient_c[0]), ambient_c), max(last_c, ambient_c)


def _draw_grounds(panel: Axes, curve: "Derating") -> None:
    """Colour beneath the curve by the limit that acts, with its name: inside, or at the right."""
    left_c, right_c = panel.get_xlim()
    grounds = {"": FULL_GROUND}
    beside: list[Label] = []
    ends_c: list[float] = []
    for stretch in stretches(curve):
        start_c, end_c = max(stretch.start_c, left_c), min(stretch.end_c, right_c)
        if start_c >= end_c:
            continue
        ground = grounds.setdefault(stretch.acting, GROUNDS[(len(grounds) - 1) % len(GROUNDS)])
        across_c = np.linspace(start_c, end_c, 60)
        height = 100 * np.interp(across_c, curve.ambient_c, curve.permitted)
        panel.fill_between(across_c, height, color=ground, linewidth=0, zorder=1)
        name = limited(stretch.acting) if stretch.acting else "full drive"
        middle_c = 0.5 * (start_c + end_c)
        room = min(height[15], height[30]) > 20
        if end_c - start_c > LEAST_SHARE * (right_c - left_c) and room:
            note(panel, name, (start_c, 0), offset_pt=(6, 5), ha="left", va="bottom",
                 color=style.INK, bbox=None, zorder=5)  # fmt: skip
        elif height.max() > 1:
            beside.append(Label(name, float(height[30]), style.INK))
            ends_c.append(middle_c)
    name_lines(panel, beside, ends_c)


def _mark_here(panel: Axes, study: "PointStudy", height: float, words: str) -> None:
    """The ambient of the point on the curve, its figure above the panel, where no line is."""
    panel.plot(
        [study.ambient_c], [height], marker="o", markersize=7, markerfacecolor="white",
        markeredgecolor=HERE, markeredgewidth=1.6, zorder=6, clip_on=False,
    )  # fmt: skip
    left_c, right_c = panel.get_xlim()
    across = (study.ambient_c - left_c) / (right_c - left_c)
    panel.annotate(
        typeset(f"{celsius(study.ambient_c)}: {words}"), (study.ambient_c, panel.get_ylim()[1]),
        xytext=(0, 2), textcoords="offset points", va="bottom", annotation_clip=False,
        ha="left" if across < EDGE else "right" if across > 1 - EDGE else "center",
        color=HERE, fontweight="bold", zorder=6,
    )  # fmt: skip
