"""One temperature against its limit: the panel that junctions and other limited nodes share."""

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from derate.report import style
from derate.report.sheet import Label, Sheet, name_axis
from derate.report.verdict import Limited
from derate.report.words import below_or_above, typeset

PANEL_IN = 1.4
LEAST_SPAN_K = 10.0
ROOM = 0.2
"""Share of the panel kept free above for the words at the peak."""


def draw_headroom(
    sheet: Sheet,
    panel: Axes,
    limited: Limited,
    value_c: NDArray[np.float64],
    stroke: style.Stroke,
) -> None:
    """Draw ``value_c`` with its limit, its peak and the margin between them."""
    sheet.line(panel, value_c, stroke)
    draw_limit(panel, limited.limit_c)
    low_c = min(float(np.nanmin(value_c)), limited.limit_c - LEAST_SPAN_K)
    high_c = max(limited.peak_c, limited.limit_c)
    panel.set_ylim(low_c - 0.04 * (high_c - low_c), high_c + ROOM * (high_c - low_c))
    sheet.between(panel, np.full(len(value_c), limited.limit_c), value_c, style.OVER, stepped=False)
    _write_margin(sheet, panel, limited)
    sheet.label(
        panel,
        [
            Label(limited.name, float(value_c[-1]), stroke.colour),
            Label(f"limit {limited.limit_c:g} degC", limited.limit_c, style.INK),
        ],
    )
    name_axis(panel, f"{limited.thing} [degC]")


def draw_limit(panel: Axes, limit_c: float) -> None:
    """The line of a limit, the same in every figure."""
    panel.axhline(
        limit_c,
        color=style.LIMIT.colour,
        linestyle=style.LIMIT.dash,
        linewidth=style.LIMIT.width_pt,
    )


def mark_peak(panel: Axes, at: float, peak_c: float) -> None:
    """A ring around a peak; ``at`` in units of the panel's clock."""
    panel.plot(
        (at,),
        (peak_c,),
        marker="o",
        markersize=5,
        markerfacecolor="white",
        markeredgecolor=style.INK,
        zorder=4,
        clip_on=False,
    )


def _write_margin(sheet: Sheet, panel: Axes, limited: Limited) -> None:
    """A ring at the peak, a stem to the limit, and the margin in words above both."""
    at = limited.peak_at_s / sheet.clock.seconds
    high_c = max(limited.peak_c, limited.limit_c)
    panel.plot(
        (at, at), (limited.peak_c, high_c), color=style.INK, linewidth=0.7, zorder=3, clip_on=False
    )
    mark_peak(panel, at, limited.peak_c)
    start, end = panel.get_xlim()
    past_middle = at > (start + end) / 2
    colour = style.WARNING if limited.margin_k < 0 else style.INK
    panel.annotate(
        typeset(f"{limited.peak_c:.1f} degC, {below_or_above(limited.margin_k)}"),
        (at, high_c),
        xytext=(4 if past_middle else -4, 4),
        textcoords="offset points",
        ha="right" if past_middle else "left",
        va="bottom",
        color=colour,
        fontweight="bold",
        fontsize=style.SMALL_PT + 0.5,
        bbox=style.CLEAR,
    )
