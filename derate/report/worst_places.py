"""How hot every place can get: full light for ever, the bound, the replay, the limit."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import beside, stacked
from derate.report.sheet import drawn
from derate.report.words import number, typeset
from derate.report.worst_words import thing

if TYPE_CHECKING:
    from derate.limits.worst.study import Worst

ROW_IN = 0.42
LEFT_IN, RIGHT_IN = 1.95, 1.3


@drawn
def places_figure(study: "Worst") -> Figure:
    """A row for each place of the worst unit."""
    places = study.units[0].places
    figure, (panel,) = stacked(
        [ROW_IN * len(places) + 0.25], left_in=LEFT_IN, right_in=RIGHT_IN, top_in=0.45
    )
    rows = range(len(places) - 1, -1, -1)
    for row, place in zip(rows, places, strict=True):
        over = place.margin_k < 0.0
        colour = style.WARNING if over else style.PALETTE[0]
        panel.plot([study.span.ambient_c[1], place.bound_c], [row, row], color=colour,
                   linewidth=6.0, solid_capstyle="butt", zorder=2)  # fmt: skip
        panel.plot([place.open_c], [row], marker="D", markersize=4.5, color=style.TRUTH.colour,
                   zorder=3)  # fmt: skip
        if place.replay is not None:
            panel.plot([place.replay.peak_c], [row], marker="o", markersize=5.5, zorder=4,
                       markerfacecolor="white", markeredgecolor=style.INK)  # fmt: skip
        panel.plot([place.limit_c, place.limit_c], [row - 0.34, row + 0.34], color=style.INK,
                   linewidth=1.6, zorder=4)  # fmt: skip
        beside(panel, thing(place.name), row, -0.1, align="right", color=style.INK)
        beside(panel, f"{number(place.margin_k)} K", row, 0.1, edge=1, color=colour, weight="bold")
    panel.set_ylim(-0.6, len(places) - 0.4)
    panel.set_yticks([])
    panel.set_xlabel(typeset("temperature [degC]"))
    beside(panel, "margin", len(places) - 0.45, 0.1, edge=1, size_pt=style.SMALL_PT)
    return figure
