"""Fans at rest: the curve of each against what its channels take."""

from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import HERE, stacked
from derate.report.point_surfaces import M3_PER_H
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, note
from derate.report.words import figures

if TYPE_CHECKING:
    from derate.study.point import PointStudy
    from derate.study.surfaces import SurfacePoint

HEIGHT_IN = 2.3
ABOVE = 1.15
"""Room above the fan's highest pressure, as a share of it."""


@drawn
def fan_figure(study: "PointStudy") -> Figure:
    """A panel a fan: pressure over flow, falling that of the fan, rising that of the channels."""
    blown = [one for one in study.surfaces if one.fan is not None]
    figure, panels = stacked([HEIGHT_IN] * len(blown), gap_in=0.62)
    for panel, one in zip(panels, blown, strict=True):
        _draw(panel, one)
        name_axes(panel, "flow [m3/h]", f"pressure at {one.name} [Pa]")
    return figure


def _draw(panel: Axes, one: "SurfacePoint") -> None:
    fan = one.fan
    assert fan is not None
    flow, at = M3_PER_H * fan.flow_m3_per_s, M3_PER_H * fan.at_m3_per_s
    top_pa = ABOVE * float(fan.fan_pa[0])
    panel.set_xlim(0.0, float(flow[-1]))
    panel.set_ylim(0.0, top_pa)
    seen = fan.channels_pa <= top_pa
    panel.plot(flow, fan.fan_pa, color=style.INK, linewidth=1.9, zorder=3)
    panel.plot(flow[seen], fan.channels_pa[seen], color=style.PALETTE[1], linewidth=1.9,
               linestyle=style.DASHES[1][0], zorder=3)  # fmt: skip
    for across, upward in (([at, at], [0.0, fan.at_pa]), ([0.0, at], [fan.at_pa] * 2)):
        panel.plot(across, upward, color=HERE, linewidth=0.9, zorder=2)
    panel.plot(
        [at], [fan.at_pa], marker="o", markersize=8, markerfacecolor="white",
        markeredgecolor=HERE, markeredgewidth=1.7, zorder=5,
    )  # fmt: skip
    words = f"works at {figures(at)} m3/h, {figures(fan.at_pa)} Pa"
    note(panel, words, (1.0, 1.0), offset_pt=(0, -2), color=HERE, ha="right", va="top",
         xycoords="axes fraction", fontweight="bold", fontsize=style.TEXT_PT, zorder=6)  # fmt: skip
    end = int(seen.nonzero()[0][-1])
    name_lines(
        panel,
        [Label("fan", float(fan.fan_pa[-1]), style.INK),
         Label("channels", float(fan.channels_pa[end]), style.PALETTE[1])],
        [float(flow[-1]), float(flow[end])],
    )  # fmt: skip
