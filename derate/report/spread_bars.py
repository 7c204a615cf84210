"""Which tolerance matters most: bars of its share of the variance."""

from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import beside, stacked
from derate.report.point_words import cut
from derate.report.sheet import drawn, name_axis
from derate.report.spread_words import SUBJECTS, importance_words, slope_words

if TYPE_CHECKING:
    from derate.study.importance import Importance
    from derate.study.spread import Spread

BAR_IN = 0.27
LEFT_IN, RIGHT_IN = 2.45, 2.75
MOST_BARS = 7
MOST_SIGNS = 36
BAR = 0.6
ALONE, TOGETHER = style.PALETTE[0], "#b9cde0"
ROOM = 1.3
"""The axis ends beyond the longest bar by this factor, for the figure at its end."""
TITLES = {
    "margin": "what the least margin depends on [% of its variance]",
    "share": "what the light depends on, as a share of what was asked [% of its variance]",
    "light": "what the light in lm h depends on [% of its variance]",
}


@drawn
def importance_figure(study: "Spread") -> Figure:
    """A panel for each figure that varies: share of the variance by draw, largest on top."""
    shown = {name: found for name, found in study.importances.items() if found is not None}
    figure, panels = stacked(
        [BAR_IN * _bars(found) for found in shown.values()],
        left_in=LEFT_IN, right_in=RIGHT_IN, gap_in=0.55, top_in=0.4, bottom_in=0.12,
    )  # fmt: skip
    for panel, (name, found) in zip(panels, shown.items(), strict=True):
        _draw(panel, found, name)
        name_axis(panel, TITLES[name])
        panel.yaxis.set_label_coords(*_corner(panel))
    return figure


def _bars(found: "Importance") -> int:
    return min(MOST_BARS, len(found.effects))


def _draw(panel: Axes, found: "Importance", subject: str) -> None:
    """Dark: what a draw brings alone; pale: together with others; a line: how sure it is."""
    _, unit, factor = SUBJECTS[subject]
    effects = found.effects[: _bars(found)]
    longest = max(max(one.first, one.total or 0.0, one.high) for one in effects) or 1.0
    panel.set_xlim(0.0, 100 * ROOM * longest)
    panel.set_ylim(len(effects) - 0.5, -0.5)
    panel.set_yticks([])
    panel.grid(visible=False)
    panel.tick_params(labelbottom=False)
    panel.spines["bottom"].set_visible(False)
    panel.axvline(0.0, color=style.SOFT, linewidth=0.8, zorder=4)
    for row, one in enumerate(effects):
        end = max(one.first, one.total or 0.0)
        panel.barh(row, 100 * end, height=BAR, color=TOGETHER, linewidth=0, zorder=1)
        panel.barh(row, 100 * one.first, height=BAR, color=ALONE, linewidth=0, zorder=2)
        panel.plot(
            [100 * one.low, 100 * one.high], [row, row], color=style.INK, linewidth=1.4, zorder=3
        )
        panel.annotate(
            f"{100 * one.first:.0f} %", (100 * max(end, one.high), row), xytext=(5, 0),
            textcoords="offset points", va="center", color=ALONE, fontweight="bold",
        )  # fmt: skip
        beside(panel, cut(one.name, MOST_SIGNS), row, -LEFT_IN + 0.13, color=style.INK)
        beside(
            panel, slope_words(one, found, unit, factor), row, 0.1, edge=1,
            color=style.SOFT, size_pt=style.SMALL_PT,
        )  # fmt: skip


def _corner(panel: Axes) -> tuple[float, float]:
    """Where the title of a panel stands: at the left edge of the figure, above the bars."""
    box = panel.get_window_extent()
    dpi = panel.figure.dpi
    return (-LEFT_IN + 0.13) * dpi / box.width, 1.0 + 0.08 * dpi / box.height


def importance_alt(study: "Spread") -> str:
    """The bars in words."""
    told = (
        f"{SUBJECTS[name][0]}: {importance_words(found, name)}"
        for name, found in study.importances.items()
        if found is not None
    )
    return "What matters most. " + "; ".join(told)
