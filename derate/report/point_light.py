"""Light against command: from where on does more current give less light, and how hot is it?"""

import math
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import HERE, asked, stacked
from derate.report.point_words import celsius, shares, whole_percent
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, raised
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.study.best import BestCommand
    from derate.study.point import PointStudy

HEIGHTS_IN = (2.3, 1.3)
LIGHT = style.Stroke(style.PALETTE[1], "-", 2.0)
ABOVE_IN = 0.3
"""Room for the commands of the rings, in two rows, between the panel and its name."""
BEYOND = 1.25
"""Where there is no rest for greater commands, the axis ends this far beyond the last."""
BEYOND_WASH = "#f3f4f6"


@drawn
def light_figure(study: "PointStudy") -> Figure:
    """Light of the lamp over a common command, beneath it the hottest junction; limits aside."""
    best = study.best
    figure, (light, junction) = stacked(HEIGHTS_IN, top_in=style.TOP_IN + ABOVE_IN)
    percent = 100.0 * best.command
    end = 100.0 * _last(best)
    for panel in (light, junction):
        panel.set_xlim(0.0, end)
        if end > 100.0:
            panel.axvspan(100.0, end, color=BEYOND_WASH, linewidth=0, zorder=0)
    light.plot(percent, best.light_lm, color=LIGHT.colour, linewidth=LIGHT.width_pt, zorder=3)
    junction.plot(
        percent, best.junction_c, color=style.HOTTEST.colour, linewidth=style.HOTTEST.width_pt,
        zorder=3,
    )  # fmt: skip
    light.set_ylim(0.0, 1.2 * float(np.max(best.light_lm, initial=1.0)))
    limits_c = sorted({one.limit_c for one in study.channels})
    top_c = float(np.max(best.junction_c, initial=max(limits_c)))
    junction.set_ylim(study.ambient_c, max(top_c, max(limits_c)) + 8.0)
    for limit_c in limits_c:
        junction.axhline(
            limit_c, color=style.LIMIT.colour, linestyle=style.LIMIT.dash,
            linewidth=style.LIMIT.width_pt, zorder=2,
        )  # fmt: skip
    words = [f"limit {limit_c:.0f} degC" for limit_c in limits_c]
    name_lines(junction, [Label(*told, style.INK) for told in zip(words, limits_c, strict=True)])
    _mark(light, best, study)
    name_axes(light, None, f"light at rest in {celsius(study.ambient_c)} [lm], limits left aside")
    light.yaxis.set_label_coords(*raised(light, ABOVE_IN))
    name_axes(junction, _command(study), "hottest junction [degC]")
    return figure


def _command(study: "PointStudy") -> str:
    """What a command of 100 % stands for."""
    mix = study.derating.mix
    if len(set(mix.values())) == 1:
        return "command, of the full current of each channel [%]"
    return f"command [%]; 100 % stands for {shares(mix)} of the full currents"


def _last(best: "BestCommand") -> float:
    """The end of the axis: that of the emitters' tables, or a little beyond the last rest."""
    return min(max(best.table_end, 1.0), BEYOND * max(float(np.max(best.command)), best.most_at))


def _mark(panel: Axes, best: "BestCommand", study: "PointStudy") -> None:
    """The most light, what is permitted here, and where the lamp's own full current is."""
    end = panel.get_xlim()[1]
    if end > 100.0:
        panel.annotate(
            typeset("beyond the full current of the lamp"), (100.0, 0.0), xytext=(5, 4),
            textcoords="offset points", va="bottom", fontsize=style.SMALL_PT, color=style.SOFT,
        )  # fmt: skip
    here = study.derating
    rings = [("most" if best.falls else "rising to", best.most_at, best.most_lm, LIGHT.colour)]
    rings.append(("permitted", here.here, here.here_lm, HERE))
    most = max(study.requests.values())
    if most < 1.0 and math.isfinite(study.power.light_lm):
        asked(panel, 100 * most, study.power.light_lm, f"asked {study.power.light_lm:.0f} lm")
    for row, (_, command, light_lm, colour) in enumerate(rings):
        _ring(panel, 100 * command, light_lm, colour, row)
    name_lines(
        panel,
        [Label(f"{word} {light_lm:.0f} lm", light_lm, colour)
         for word, _, light_lm, colour in rings],
        [100 * command for _, command, _, _ in rings],
    )  # fmt: skip


def _ring(panel: Axes, at: float, height: float, colour: str, row: int) -> None:
    """A ring on the curve, a thin line down to the command, which is written above the panel."""
    panel.plot([at, at], [0.0, panel.get_ylim()[1]], color=colour, linewidth=0.8, zorder=2)
    panel.plot(
        [at], [height], marker="o", markersize=7, markerfacecolor="white", markeredgecolor=colour,
        markeredgewidth=1.6, zorder=5, clip_on=False,
    )  # fmt: skip
    panel.annotate(
        whole_percent(at / 100), (at, panel.get_ylim()[1]), xytext=(0, 2 + 11 * row), va="bottom",
        textcoords="offset points", ha="center", color=colour, annotation_clip=False,
    )  # fmt: skip
