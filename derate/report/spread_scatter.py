"""The least margin of each unit against the tolerance that it depends on most."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.lamp.quantity_at import quantities_at
from derate.lamp.varying import OF_PROFILE
from derate.report import style
from derate.report.point_panel import HERE, stacked
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines

if TYPE_CHECKING:
    from derate.study.spread import Spread

HEIGHT_IN = 3.0
MOST_POINTS = 1500
BINS, LEAST_IN_BIN = 16, 8
SHOWN = ((0.05, 0.9), (0.5, 2.0), (0.95, 0.9))
"""Quantiles that are drawn as lines, and their widths [pt]."""
RC_POINT = 2.2


class Axis(NamedTuple):
    """The tolerance on the horizontal axis: its name with unit, what each unit drew."""

    name: str
    value: NDArray[np.float64]


def axis_of(study: "Spread") -> Axis | None:
    """The draw that the margin depends on most: the first key that it moves, in its unit."""
    found = study.importances["margin"]
    if found is None:
        return None
    slopes = found.effects[0].slopes
    name = max(slopes, key=lambda draw: abs(slopes[draw]))
    limits = next(one for one in study.drawn if one.name == name).keys[0]
    value = study.draws.values[:, study.draws.keys.index(limits.key)]
    if limits.key in OF_PROFILE:
        words = {"ambient": "shift of the ambient [K]", "airflow": "factor on the airflow"}
        return Axis(f"{name}: {words[limits.key]}", value)
    if limits.nominal != 0.0:
        share = 100.0 * (value / limits.nominal - 1.0)
        return Axis(f"{name}: off the nominal value [%]", share)
    (quantity,) = quantities_at(study.lamp, limits.key)
    unit = quantity.unit.symbol
    scale, unit = (1.0, unit) if unit else (100.0, "%")
    return Axis(f"{name}: off what is printed [{unit}]", scale * value)


@drawn
def scatter_figure(study: "Spread") -> Figure:
    """A point a unit, quantiles as lines, the limit at zero and the guard band above it."""
    axis = axis_of(study)
    assert axis is not None, "shown only where there is an axis"
    figure, (panel,) = stacked([HEIGHT_IN])
    margin_k = study.figures.margin_k
    low_k, high_k = min(0.0, float(margin_k.min())), max(study.guard_k, float(margin_k.max()))
    room_k = 0.05 * (high_k - low_k)
    panel.set_ylim(low_k - room_k, high_k + room_k)
    panel.axhspan(0.0, study.guard_k, color=style.HELD_BACK, linewidth=0, zorder=0)
    panel.axhline(
        0.0, color=style.LIMIT.colour, linestyle=style.LIMIT.dash, linewidth=style.LIMIT.width_pt,
        zorder=2,
    )  # fmt: skip
    shown = slice(0, MOST_POINTS)
    for part, colour in ((margin_k >= 0, style.ASKED.colour), (margin_k < 0, style.WARNING)):
        panel.plot(
            axis.value[shown][part[shown]], margin_k[shown][part[shown]], linestyle="none",
            marker="o", markersize=RC_POINT, markeredgewidth=0, color=colour, zorder=2,
        )  # fmt: skip
    labels = _lines(panel, axis.value, margin_k)
    _worst(panel, study, axis)
    name_axes(panel, axis.name, "least margin of the unit [K]")
    named = [Label("limit", 0.0, style.INK), *labels]
    name_lines(panel, named)
    return figure


def _lines(panel: Axes, value: NDArray[np.float64], margin_k: NDArray[np.float64]) -> list[Label]:
    """Quantiles of the margin in slices of as many units each; returns the names of the lines."""
    order = np.argsort(value)
    slices = max(1, min(BINS, len(order) // LEAST_IN_BIN))
    parts = np.array_split(order, slices)
    across = [float(np.median(value[part])) for part in parts]
    labels = []
    for at, width_pt in SHOWN:
        heights = [float(np.quantile(margin_k[part], at)) for part in parts]
        panel.plot(across, heights, color=HERE, linewidth=width_pt, zorder=4)
        word = "half are below" if at == 0.5 else f"{100 * at:.0f} % are below"
        labels.append(Label(word, heights[-1], HERE))
    return labels


def _worst(panel: Axes, study: "Spread", axis: Axis) -> None:
    """Rings around the worst units; the number of the very worst."""
    rows = np.searchsorted(study.figures.units, study.worst)
    panel.plot(
        axis.value[rows], study.figures.margin_k[rows], linestyle="none", marker="o", markersize=6,
        markerfacecolor="none", markeredgecolor=style.INK, markeredgewidth=1.0, zorder=5,
    )  # fmt: skip
    rightward = axis.value[rows[0]] < np.median(axis.value)
    panel.annotate(
        f"unit {study.worst[0]}", (axis.value[rows[0]], study.figures.margin_k[rows[0]]),
        xytext=(7 if rightward else -7, 0), textcoords="offset points", va="center",
        ha="left" if rightward else "right", color=style.INK, fontweight="bold", zorder=5,
        bbox=style.CLEAR,
    )  # fmt: skip
