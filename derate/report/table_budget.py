"""The error budget: what adds up to the reading error, at each temperature."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.report import style
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, note, panels

if TYPE_CHECKING:
    from derate.sensing.budget import Budget
    from derate.sensing.contribution import Contribution
    from derate.sensing.montecarlo import Confirmation

HEIGHTS_IN = (3.3, 1.7)
MOST_NAMED = 10
GROUNDS = (
    "#8db0d2", "#f0cf94", "#a6d3bf", "#d3afca", "#cdd9a4", "#dcc0aa", "#bcd4ec", "#d6b3b8",
    "#b9c3a0", "#e6dfb8", "#c9ced6",
)  # fmt: skip
"""Fills of the contributions from the largest on, light enough for lines to be read on them."""
WORST = style.Stroke(style.INK, "-", 1.4)
CORNER = style.Stroke(style.PALETTE[3], (0, (6, 1.4)), 1.5)
RSS = style.Stroke(style.PALETTE[0], (0, (1.4, 1.1)), 1.9)
BAND = "#c9ced6"
INNER = slice(1, -1)


class Share:
    """One or several contributions drawn as one layer: low [K, <= 0] and high [K, >= 0]."""

    def __init__(self, name: str, parts: "list[Contribution]") -> None:
        self.name = name
        self.low_k = np.sum([np.minimum(part.worst_low_k, 0.0) for part in parts], axis=0)
        self.high_k = np.sum([np.maximum(part.worst_high_k, 0.0) for part in parts], axis=0)

    @property
    def size_k(self) -> float:
        """The largest error it makes at any temperature [K]."""
        return float(np.max(np.maximum(-self.low_k, self.high_k)))


def shares(budget: "Budget") -> list[Share]:
    """The contributions that count, the largest first, the small ones together."""
    counting = [Share(part.name, [part]) for part in budget.contributions if part.counts]
    counting.sort(key=lambda share: share.size_k, reverse=True)
    if len(counting) <= MOST_NAMED + 1:
        return counting
    small = {share.name for share in counting[MOST_NAMED:]}
    rest = [part for part in budget.contributions if part.name in small]
    return [*counting[:MOST_NAMED], Share(f"{len(rest)} smaller ones", rest)]


@drawn
def budget_figure(
    budget: "Budget", confirmed: "Confirmation | None" = None, at_c: float | None = None
) -> Figure:
    """Contributions stacked to both sides of zero; beneath, the sums and the Monte Carlo band.

    ``at_c`` [degC]: a threshold to mark.
    """
    figure, (stack, sums) = panels(HEIGHTS_IN)
    celsius = budget.temperatures_c
    for panel in (stack, sums):
        panel.set_xlim(float(celsius[0]), float(celsius[-1]))
        panel.axhline(0.0, color=style.INK, linewidth=0.8, zorder=4)
    labels = _draw_stack(stack, celsius, shares(budget))
    stack.margins(y=0.04)
    sums.set_ylim(
        min(1.1 * float(np.min(budget.worst_low_k)), 0.0),
        max(1.1 * float(np.max(budget.worst_high_k)), 0.0),
    )
    for panel in (stack, sums):
        if at_c is not None:
            panel.axvline(at_c, color=style.WARNING, linewidth=0.9, zorder=5)
    if at_c is not None:
        foot = stack.get_ylim()[0]
        note(stack, f"threshold\n{at_c:g} degC", (at_c, foot), offset_pt=(-4, 3), ha="right",
             va="bottom", color=style.WARNING)  # fmt: skip
    name_lines(stack, labels)
    name_lines(sums, *_draw_sums(sums, budget, confirmed))
    name_axes(stack, None, "each cause at its limits, stacked [K]: above zero it reads hot")
    name_axes(sums, "temperature [degC]", "reading error in all [K]")
    return figure


def _draw_stack(panel: Axes, celsius: NDArray[np.float64], found: list[Share]) -> list[Label]:
    """Layers outward from zero, the largest next to zero; named where they end on the right."""
    labels = []
    up, down = np.zeros(len(celsius)), np.zeros(len(celsius))
    for share, ground in zip(found, GROUNDS, strict=False):
        for inner, outer in ((up, up + share.high_k), (down, down + share.low_k)):
            panel.fill_between(
                celsius, inner, outer, color=ground, edgecolor="white", linewidth=0.7, zorder=2
            )
        above = share.high_k[-1] >= -share.low_k[-1]
        middle = up[-1] + 0.5 * share.high_k[-1] if above else down[-1] + 0.5 * share.low_k[-1]
        labels.append(Label(share.name, float(middle), style.INK))
        up, down = up + share.high_k, down + share.low_k
    return labels


def _draw_sums(
    panel: Axes, budget: "Budget", confirmed: "Confirmation | None"
) -> tuple[list[Label], list[float]]:
    """Worst sum, worst corner, root-sum-square, what drawn units did; names, and where they end.

    At the ends of the working range the table holds its last value; the two that go through it
    are drawn between.
    """
    celsius, bias_k, rss_k = budget.temperatures_c, budget.bias_k, budget.rss_k
    _both(panel, celsius, budget.worst_low_k, budget.worst_high_k, WORST)
    corner_low_k, corner_high_k = budget.corner_low_k[INNER], budget.corner_high_k[INNER]
    _both(panel, celsius[INNER], corner_low_k, corner_high_k, CORNER)
    _both(panel, celsius, bias_k - rss_k, bias_k + rss_k, RSS)
    labels = [
        Label("worst sum", float(budget.worst_high_k[-1]), WORST.colour),
        Label("worst unit", float(corner_high_k[-1]), CORNER.colour),
        Label("root sum square", float(bias_k[-1] + rss_k[-1]), RSS.colour),
    ]
    if confirmed is not None:
        panel.fill_between(
            confirmed.temperatures_c[INNER], confirmed.low_k[INNER], confirmed.high_k[INNER],
            color=BAND, linewidth=0, zorder=1,
        )  # fmt: skip
        inside_k = 0.85 * confirmed.low_k[-2] + 0.15 * confirmed.high_k[-2]
        labels.append(Label("99.7 % of units", float(inside_k), style.SOFT))
    inner_c, last_c = float(celsius[INNER][-1]), float(celsius[-1])
    return labels, [last_c, inner_c, last_c, inner_c][: len(labels)]


def _both(
    panel: Axes,
    celsius: NDArray[np.float64],
    low_k: NDArray[np.float64],
    high_k: NDArray[np.float64],
    stroke: style.Stroke,
) -> None:
    for line_k in (low_k, high_k):
        panel.plot(
            celsius, line_k, color=stroke.colour, linestyle=stroke.dash, linewidth=stroke.width_pt,
            zorder=3,
        )  # fmt: skip
