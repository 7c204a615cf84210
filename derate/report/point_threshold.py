"""Junction against reading: which reading means that a junction has met its limit?"""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.point_panel import stacked
from derate.report.point_words import closest_channels, thresholds_c
from derate.report.sheet import Label, drawn
from derate.report.strokes import strokes
from derate.report.table_panel import name_axes, name_lines, raised
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.study.point import PointStudy
    from derate.study.threshold import ThresholdRelation

HEIGHT_IN = 3.0
ABOVE_IN = 0.32
"""Room for the names of the thresholds between the panel and its name."""
QUANTITY = "hottest junction at rest [degC]: solid, full drive in all ambients; dotted, less drive"
MOST_CHANNELS = 4
VARIED = {"ambient": ("-", 1.9), "request": ((0, (1.4, 1.1)), 1.7)}
"""Dash and width [pt]: the colour is the channel's."""
AROUND_K = 12.0
"""Shown beyond the highest limit and threshold."""
MOST_SPAN_K = 130.0
UNDER_PT = 0.9
"""Each line is wider by this than the one drawn after it, so that lines on each other show."""


@drawn
def threshold_figure(study: "PointStudy") -> Figure:
    """A panel a sensor: hottest junctions over the reading, limits, thresholds of the control."""
    relations = study.thresholds
    figure, panels = stacked(
        [HEIGHT_IN] * len(relations), gap_in=0.6 + ABOVE_IN, top_in=style.TOP_IN + ABOVE_IN
    )
    shown = [one.name for one in closest_channels(study, MOST_CHANNELS)]
    for panel, relation in zip(panels, relations, strict=True):
        _scale(panel, study, relation)
        _draw_curves(panel, study, relation, shown)
        _mark_thresholds(panel, study)
        _mark_rest(panel, study, relation.sensor)
        name_axes(panel, f"reading of {relation.sensor} [degC]", QUANTITY)
        panel.yaxis.set_label_coords(*raised(panel, ABOVE_IN))
    return figure


def _scale(panel: Axes, study: "PointStudy", relation: "ThresholdRelation") -> None:
    """From the ambient of the point to a little beyond limits and thresholds."""
    limits_c = [one.limit_c for one in study.channels]
    thresholds = [value_c for _, value_c in thresholds_c(study)]
    met_c = [one.reading_c for one in relation.at_limit if np.isfinite(one.reading_c)]
    last_c = max(thresholds + met_c) + AROUND_K
    panel.set_xlim(max(study.ambient_c - AROUND_K, last_c - MOST_SPAN_K), last_c)
    panel.set_ylim(max(study.ambient_c - AROUND_K, min(limits_c) - MOST_SPAN_K),
                   max(limits_c) + 1.6 * AROUND_K)  # fmt: skip


def _draw_curves(
    panel: Axes, study: "PointStudy", relation: "ThresholdRelation", shown: list[str]
) -> None:
    """Each channel twice: the ambient varied, the request varied; rings where a limit is met."""
    colours = strokes(list(study.requests))
    labels, ends_c = [], []
    beneath_pt = UNDER_PT * len(shown)
    left_c, right_c = panel.get_xlim()
    foot_c, top_c = panel.get_ylim()
    for column, channel in enumerate(relation.channels):
        if channel not in shown:
            continue
        colour = colours[channel].colour
        beneath_pt -= UNDER_PT
        for curve in relation.curves:
            dash, width_pt = VARIED[curve.varied]
            junction_c = curve.junction_c[:, column]
            panel.plot(
                curve.reading_c, junction_c, color=colour, linestyle=dash,
                linewidth=width_pt + beneath_pt, zorder=3,
            )  # fmt: skip
            seen = (curve.reading_c <= right_c) & (junction_c <= top_c)
            seen &= (curve.reading_c >= left_c) & (junction_c >= foot_c)
            if np.any(seen) and curve.varied == "ambient":
                end = int(np.flatnonzero(seen)[-1])
                ends_c.append(float(curve.reading_c[end]))
                labels.append(Label(channel, float(junction_c[end]), colour))
    for limit_c in {one.limit_c for one in study.channels if one.name in shown}:
        panel.axhline(
            limit_c, color=style.LIMIT.colour, linestyle=style.LIMIT.dash,
            linewidth=style.LIMIT.width_pt, zorder=2,
        )  # fmt: skip
        labels.append(Label(f"limit {limit_c:.0f} degC", limit_c, style.INK))
        ends_c.append(right_c)
    name_lines(panel, labels, ends_c)
    _mark_met(panel, study, relation, shown)


def _mark_met(
    panel: Axes, study: "PointStudy", relation: "ThresholdRelation", shown: list[str]
) -> None:
    """A ring where a junction meets its limit, the reading written beneath it."""
    limits_c = {one.name: one.limit_c for one in study.channels}
    colours = strokes(list(study.requests))
    met = [one for one in relation.at_limit if one.channel in shown and np.isfinite(one.reading_c)]
    for one in met:
        panel.plot(
            [one.reading_c], [limits_c[one.channel]], marker="o", markersize=8,
            markerfacecolor="white", markeredgecolor=colours[one.channel].colour,
            markeredgewidth=1.6, zorder=5,
        )  # fmt: skip
    if met:
        first = min(met, key=lambda one: one.reading_c)
        at_c = (first.reading_c, limits_c[first.channel])
        panel.plot([at_c[0]] * 2, [panel.get_ylim()[0], at_c[1]], color=style.WARNING,
                   linewidth=0.9, zorder=2)  # fmt: skip
        panel.annotate(
            typeset(f"{first.reading_c:.1f} degC: {first.channel} at its limit"), at_c,
            xytext=(-7, 6), textcoords="offset points", ha="right", va="bottom",
            color=style.WARNING, fontweight="bold", bbox=style.CLEAR, zorder=4,
        )  # fmt: skip


def _mark_rest(panel: Axes, study: "PointStudy", sensor: str) -> None:
    """Where thermal control comes to rest at this point."""
    rest = study.settled
    if rest is None or not rest.settles or sensor not in rest.reading_c:
        return
    at_c = (rest.reading_c[sensor], max(rest.junction_c.values()))
    if not all(np.isfinite(at_c)):
        return
    panel.plot(*at_c, marker="s", markersize=6, color=style.INK, zorder=6)
    panel.annotate(
        typeset("control rests here"), at_c, xytext=(10, -12), textcoords="offset points",
        ha="left", va="top", color=style.INK, fontweight="bold", zorder=4,
    )  # fmt: skip


def _mark_thresholds(panel: Axes, study: "PointStudy") -> None:
    """Where control acts: names above the panel, in two rows."""
    for number, (name, value_c) in enumerate(thresholds_c(study)):
        panel.axvline(
            value_c, color=style.SOFT, linestyle=style.CONTROL_LIMIT.dash,
            linewidth=style.CONTROL_LIMIT.width_pt, zorder=1,
        )  # fmt: skip
        panel.annotate(
            typeset(f"{name} {value_c:.4g}"), (value_c, panel.get_ylim()[1]),
            xytext=(0, 3 + 11 * (number % 2)), textcoords="offset points", va="bottom",
            ha="center", fontsize=style.SMALL_PT, color=style.SOFT, annotation_clip=False,
        )  # fmt: skip
