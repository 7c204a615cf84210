"""Each setting moved a little: how much light and margin hang on it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from derate.report import style
from derate.report.sheet import drawn, plain
from derate.report.words import typeset
from derate.study.tune_space import name_of

if TYPE_CHECKING:
    from derate.study.tune import Tuning
    from derate.study.tune_front import Swing

COLUMNS = 4
LIGHT_IN, MARGIN_IN, BETWEEN_IN, BELOW_IN = 1.0, 0.8, 0.16, 0.72
TOP_IN, LEFT_IN, RIGHT_IN, ASIDE_IN = 0.45, 0.55, 0.2, 0.22
LEAST_LIGHT, LEAST_K = 0.02, 2.0
"""The scales span this much at least, so that what is flat looks flat."""
LIGHT = style.Stroke(style.PALETTE[1], "-", 1.6)
MARGIN = style.Stroke(style.PALETTE[0], "-", 1.6)


@drawn
def moved_figure(tuning: "Tuning") -> Figure:
    """Small panels of one scale, a pair for each setting: light above, margin beneath."""
    swings = tuning.swings
    lines = -(-len(swings) // COLUMNS)
    line_in = LIGHT_IN + BETWEEN_IN + MARGIN_IN + BELOW_IN
    height_in = TOP_IN + lines * line_in
    figure = Figure(figsize=(style.WIDTH_IN, height_in), facecolor="white")
    width_in = (style.WIDTH_IN - LEFT_IN - RIGHT_IN - (COLUMNS - 1) * ASIDE_IN) / COLUMNS
    lights = _span([one.light for s in swings for one in s.figures], LEAST_LIGHT)
    margins = _span(
        [tuning.goal.guard_k, *(one.margin_k for s in swings for one in s.figures)], LEAST_K
    )
    for number, swing in enumerate(swings):
        row, column = divmod(number, COLUMNS)
        left_in = LEFT_IN + column * (width_in + ASIDE_IN)
        top_in = height_in - TOP_IN - row * line_in

        def panel(foot_in: float, tall_in: float, left_in: float = left_in) -> Axes:
            box = (left_in / style.WIDTH_IN, foot_in / height_in,
                   width_in / style.WIDTH_IN, tall_in / height_in)  # fmt: skip
            return figure.add_axes(box)

        light = panel(top_in - LIGHT_IN, LIGHT_IN)
        margin = panel(top_in - LIGHT_IN - BETWEEN_IN - MARGIN_IN, MARGIN_IN)
        _draw(light, swing, [one.light for one in swing.figures], LIGHT, lights)
        _draw(margin, swing, [one.margin_k for one in swing.figures], MARGIN, margins)
        light.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100.0 * value:g}"))
        margin.axhline(tuning.goal.guard_k, color=style.INK, linestyle=style.LIMIT.dash,
                       linewidth=0.9, zorder=1)  # fmt: skip
        light.set_title(name_of(swing.key), loc="left", fontsize=style.TEXT_PT, color=style.INK)
        _name_values(light, margin, swing)
        for one, what in ((light, "light [%]"), (margin, "margin [K]")):
            one.tick_params(labelleft=column == 0)
            if column == 0:
                one.set_ylabel(what, color=style.SOFT, fontsize=style.SMALL_PT)
    return figure


def _span(values: Sequence[float], least: float) -> tuple[float, float]:
    low, high = min(values), max(values)
    more = 0.5 * max(0.0, least - (high - low)) + 0.06 * max(least, high - low)
    return low - more, high + more


def _draw(
    panel: Axes,
    swing: "Swing",
    values: Sequence[float],
    stroke: style.Stroke,
    span: tuple[float, float],
) -> None:
    """One figure over the values of a setting, the recommended one ringed."""
    plain(panel, last=True)
    places = [i - swing.at for i in range(len(values))]
    panel.plot(places, values, color=stroke.colour, linewidth=stroke.width_pt, marker=".",
               markersize=5, zorder=3)  # fmt: skip
    panel.plot([0], [values[swing.at]], marker="o", markersize=9, markerfacecolor="none",
               markeredgecolor=style.INK, markeredgewidth=1.3, zorder=4)  # fmt: skip
    panel.set_xlim(-2.3, 2.3)
    panel.set_ylim(*span)
    panel.yaxis.set_major_locator(MaxNLocator(4))


def _name_values(light: Axes, margin: Axes, swing: "Swing") -> None:
    """The values that were tried, beneath; the recommended one and the ends."""
    ends = sorted({0, swing.at, len(swing.said) - 1})
    places = [i - swing.at for i in ends]
    for panel in (light, margin):
        panel.set_xticks(places, [])
    shown = [typeset(str(swing.said[i])).replace(" ", "\n") for i in ends]
    margin.set_xticks(places, shown)
    for one, i in zip(margin.get_xticklabels(), ends, strict=True):
        one.set_color(style.INK if i == swing.at else style.SOFT)
        one.set_fontweight("bold" if i == swing.at else "normal")
