"""The temperatures that matter most in one panel, with their limits."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from derate.report import style
from derate.report.headroom import draw_limit, mark_peak
from derate.report.sheet import Label, Sheet, name_axis
from derate.report.strokes import channel_strokes
from derate.report.verdict import Limited, by_margin, limited_nodes

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_CHARACTERS = 24
"""Longest label that finds room beside a panel; "degC" is set as two characters."""


def draw_temperatures(
    sheet: Sheet, panel: Axes, result: "Result", shown: tuple[Limited, ...]
) -> None:
    """Junctions of the ``shown`` channels, thermistor, ambient; a node if it is the closest of all.

    A ring marks the peak of whatever comes closest to its limit.
    """
    trace, closest = result.trace, by_margin(result)[0]
    node = closest if closest in limited_nodes(result) else None
    found = channel_strokes(result)
    curves = [(each, found[each.name]) for each in shown]
    if node:
        curves.append((node, style.NODE))
    labels = _draw_limits(panel, shown, node)
    for limited, stroke in curves:
        sheet.line(panel, trace[limited.column], stroke)
        labels.append(Label(limited.name, float(trace[limited.column][-1]), stroke.colour))
    low_c = closest.peak_c
    for text, (column, stroke) in _surroundings(result).items():
        sheet.line(panel, trace[column], stroke, rank=1.9)
        labels.append(Label(text, float(trace[column][-1]), style.SOFT))
        low_c = min(low_c, float(np.min(trace[column])))
    mark_peak(panel, closest.peak_at_s / sheet.clock.seconds, closest.peak_c)
    high_c = max(max(each.peak_c, each.limit_c) for each, _ in curves)
    panel.set_ylim(low_c - 0.06 * (high_c - low_c), high_c + 0.06 * (high_c - low_c))
    sheet.label(panel, labels)
    name_axis(panel, "temperatures [degC]" if node else "junctions [degC]")


def _draw_limits(panel: Axes, shown: tuple[Limited, ...], node: Limited | None) -> list[Label]:
    """A line for each limit; if there are several, their labels say whose they are."""
    owners: dict[float, list[str]] = {}
    for junction in shown:
        owners.setdefault(junction.limit_c, []).append(junction.name)
    shared = sum(len(names) > 1 for names in owners.values())
    labels = []
    for limit_c, names in owners.items():
        if len(owners) == 1:
            whose = "junction limit" if node else "limit"
        elif len(names) == 1:
            whose = f"{names[0]} limit"
        else:
            whose = "other limits" if shared == 1 else "limit"
        labels.append(_limit_label(limit_c, whose))
    if node:
        labels.append(_limit_label(node.limit_c, f"{node.name} limit"))
    for label in labels:
        draw_limit(panel, label.at)
    return labels


def _limit_label(limit_c: float, whose: str) -> Label:
    """``board limit 60 degC``, or without the name where it finds no room."""
    text = f"{whose} {limit_c:g} degC"
    return Label(
        text if len(text) <= MOST_CHARACTERS else f"limit {limit_c:g} degC", limit_c, style.INK
    )


def _surroundings(result: "Result") -> dict[str, tuple[str, style.Stroke]]:
    """Columns of the first thermistor, on which the control relies, and of the first ambient."""
    ambient = next(name for name in result.trace.names if name.startswith("ambient_"))
    thermistor = f"thermistor_{next(iter(result.merit.sensors))}_c"
    return {
        "thermistor": (thermistor, style.TRUTH._replace(width_pt=2.0)),
        "ambient": (ambient, style.AMBIENT),
    }
