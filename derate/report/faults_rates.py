"""How fast the reading rises after switch-on, of good units and of those without heat sink."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from derate.report import style
from derate.report.faults_beside import early_words
from derate.report.point_panel import beside, stacked
from derate.report.sheet import drawn, name_axis
from derate.report.words import duration, figures

if TYPE_CHECKING:
    from derate.limits.early import Detection
    from derate.limits.fault_matrix import FaultStudy

PANEL_IN = 1.75
RIGHT_IN = 2.3
GOOD, BAD = style.PALETTE[2], style.WARNING
TICKS_S = (1, 2, 5, 10, 20, 50, 90)
ROOM = 1.12


@drawn
def rates_figure(study: "FaultStudy") -> Figure:
    """A panel for each joint: the range of both kinds of units over the window, the threshold."""
    figure, panels = stacked([PANEL_IN] * len(study.early), gap_in=0.6, right_in=RIGHT_IN)
    for panel, one in zip(panels, study.early, strict=True):
        _draw(panel, one)
        name_axis(panel, f"mean rise of the reading, {study.around.joint} x {one.factor:g} [K/s]")
    panels[-1].set_xlabel("time after switch-on [s]", color=style.SOFT, labelpad=2)
    return figure


def _draw(panel: Axes, one: "Detection") -> None:
    windows_s = [look.window_s for look in one.looks]
    panel.set_xscale("log")
    panel.xaxis.set_major_locator(FixedLocator(TICKS_S))
    panel.xaxis.set_minor_locator(NullLocator())
    panel.set_xticklabels([str(tick) for tick in TICKS_S])
    panel.set_xlim(windows_s[0], windows_s[-1])
    top = max(float(np.nanmax(look.bad_k_per_s)) for look in one.looks)
    panel.set_ylim(0.0, ROOM * top)
    for rates, colour in (
        ([look.good_k_per_s for look in one.looks], GOOD),
        ([look.bad_k_per_s for look in one.looks], BAD),
    ):
        low, high = [np.nanmin(rate) for rate in rates], [np.nanmax(rate) for rate in rates]
        panel.fill_between(windows_s, low, high, color=colour, alpha=0.25, linewidth=0, zorder=2)
        for edge in (low, high):
            panel.plot(windows_s, edge, color=colour, linewidth=1.0, zorder=3)
    best = one.best
    panel.plot(
        [best.window_s], [best.threshold_k_per_s], marker="D", markersize=5, color=style.INK,
        zorder=5,
    )  # fmt: skip
    units = len(best.good_k_per_s)
    words = "told apart" if best.tells else "not told apart"
    threshold = f"{figures(best.threshold_k_per_s)} K/s"
    for height, text, colour in (
        (0.92, f"{units} without good joint", BAD),
        (0.76, f"{units} good units", GOOD),
        (0.52, f"{words} at {duration(best.window_s)}", style.INK),
        (0.36, f"by {threshold}", style.INK),
    ):
        beside(panel, text, height * ROOM * top, 0.12, edge=1, color=colour)


def rates_alt(study: "FaultStudy") -> str:
    """The rates in words."""
    joint = study.around.joint
    told = (f"{joint} x {one.factor:g}: {early_words(one)}" for one in study.early)
    return "Rise of the reading after switch-on. " + "; ".join(told)
