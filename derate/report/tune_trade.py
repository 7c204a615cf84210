"""What light costs: margin to the limits, and steps that people see."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from derate.report import style
from derate.report.sheet import drawn
from derate.report.table_panel import name_axes, note, panels
from derate.study.tune_visibility import JUST_NOTICEABLE, STEPLESS

if TYPE_CHECKING:
    from derate.study.tune import Tuning
    from derate.study.tune_front import Tried
    from derate.study.tune_trial import Figures

HEIGHTS_IN = (2.9, 2.5)
PAST_K, ABOVE_K = 5.0, 14.0
"""The margin is drawn from this far past the guard to this far above it."""
LEAST_STEP = 1e-3
FRONT = style.Stroke(style.PALETTE[0], "-", 1.8)
CLOUD = "#b9c2cc"
Steps = Literal["steps-pre", "steps-post"]
RIGHT_IN = 0.35


@drawn
def trade_figure(tuning: "Tuning") -> Figure:
    """Light against margin, and light against the largest step within a second."""
    figure, (margins, steps) = panels(HEIGHTS_IN, right_in=RIGHT_IN, gap_in=0.85)
    _margins(margins, tuning)
    _steps(steps, tuning)
    margins.tick_params(labelbottom=True)
    return figure


def _margins(panel: Axes, tuning: "Tuning") -> None:
    guard_k = tuning.goal.guard_k
    low_k, high_k = guard_k - PAST_K, guard_k + ABOVE_K
    shown = [one for one in tuning.others if low_k <= one.margin_k <= high_k]
    front = [one for one in tuning.margins if low_k <= one.figures.margin_k <= high_k]
    _points(panel, [(one.margin_k, one.light) for one in shown])
    _line(panel, [(one.figures.margin_k, one.figures.light) for one in front], "steps-pre")
    panel.set_xlim(low_k, high_k)
    _scale_light(panel, shown, tuning)
    panel.axvspan(low_k, min(0.0, high_k), color=style.FAULT_WASH, linewidth=0, zorder=0)
    panel.axvline(guard_k, color=style.INK, linestyle=style.LIMIT.dash, linewidth=1.1, zorder=2)
    top = panel.get_ylim()[1]
    note(panel, "guard asked for", (guard_k, top), offset_pt=(4, -2), va="top")
    if low_k < -1.0:
        note(panel, "a limit is passed", (low_k, top), offset_pt=(4, -2), va="top",
             color=style.WARNING)  # fmt: skip
    _now(panel, (tuning.present.margin_k, tuning.present.light))
    if tuning.chosen is not None:
        _chosen(panel, (tuning.chosen.figures.margin_k, tuning.chosen.figures.light))
    name_axes(
        panel,
        "least margin to a limit, of all units in all profiles [K]",
        "light, share of what is asked for [%]",
    )


def _steps(panel: Axes, tuning: "Tuning") -> None:
    shown = [one for one in tuning.others if _good(one, tuning)]
    front = [one for one in tuning.steps if _good(one.figures, tuning)]
    panel.set_xscale("log")
    _points(panel, [(_step(one), one.light) for one in shown])
    _line(panel, [(_step(one.figures), one.figures.light) for one in front], "steps-post")
    _scale_light(panel, shown, tuning)
    panel.set_xlim(LEAST_STEP, 1.0)
    panel.xaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0)))
    panel.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100.0 * value:g}"))
    panel.xaxis.set_minor_formatter(NullFormatter())
    foot = panel.get_ylim()[0]
    for step, text in ((STEPLESS, "taken as\nstepless"), (JUST_NOTICEABLE, "just\nnoticeable")):
        panel.axvline(step, color=style.SOFT, linestyle=(0, (2, 2)), linewidth=0.9, zorder=1)
        note(panel, text, (step, foot), offset_pt=(3, 3), va="bottom")
    if tuning.present.seen is not None:
        _now(panel, (_step(tuning.present), tuning.present.light))
    if tuning.chosen is not None:
        _chosen(panel, (_step(tuning.chosen.figures), tuning.chosen.figures.light))
    name_axes(
        panel,
        "largest step of light within a second, as a share of the light before [%]",
        "light, share of what is asked for [%]",
    )


def _good(figures: "Figures", tuning: "Tuning") -> bool:
    return figures.seen is not None and figures.margin_k >= tuning.goal.guard_k


def _step(figures: "Figures") -> float:
    step = figures.seen.step if figures.seen is not None else math.nan
    return min(max(step, LEAST_STEP), 1.0)


def _points(panel: Axes, points: Sequence[tuple[float, float]]) -> None:
    panel.plot(
        [x for x, _ in points], [y for _, y in points], linestyle="", marker=".",
        markersize=3.5, color=CLOUD, zorder=2,
    )  # fmt: skip


def _line(panel: Axes, points: Sequence[tuple[float, float]], steps: Steps) -> None:
    """The front: from one point to the next the settings of the worse one can always be had."""
    points = sorted(points)
    panel.plot(
        [x for x, _ in points], [y for _, y in points], color=FRONT.colour,
        linewidth=FRONT.width_pt, drawstyle=steps, marker="o", markersize=3.0, zorder=3,
    )  # fmt: skip


def _scale_light(panel: Axes, shown: "Sequence[Figures]", tuning: "Tuning") -> None:
    """Room for what is good; what is much darker than the rest is left out."""
    lights = sorted(one.light for one in shown)
    best = max([*lights, tuning.present.light])
    low = lights[len(lights) // 4] if lights else 0.0
    low = min(low, tuning.present.light, best - 0.05)
    span = best - low
    panel.set_ylim(max(0.0, low - 0.1 * span), best + 0.15 * span)
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100.0 * value:g}"))


def _now(panel: Axes, at: tuple[float, float]) -> None:
    low, high = panel.get_xlim()
    inside = low <= at[0] <= high
    x = min(max(at[0], low), high)
    panel.plot([x], [at[1]], marker="s", markersize=6.5, color=style.PALETTE[1], zorder=5,
               clip_on=False)  # fmt: skip
    text = "now" if inside else f"now, at {at[0]:.1f}"
    note(panel, text, (x, at[1]), offset_pt=(7, -9), color=style.PALETTE[1], zorder=7)


def _chosen(panel: Axes, at: tuple[float, float]) -> None:
    panel.plot([at[0]], [at[1]], marker="o", markersize=11, markerfacecolor="none",
               markeredgecolor=style.INK, markeredgewidth=1.6, zorder=6)  # fmt: skip
    note(panel, "recommended", at, offset_pt=(9, 6), color=style.INK, zorder=7)


def front_words(along: "Sequence[Tried]") -> str:
    """How far a front reaches."""
    if not along:
        return "nothing was found that keeps the limits"
    lights = [100.0 * one.figures.light for one in along]
    return f"light from {min(lights):.0f} to {max(lights):.0f} % of what is asked for"
