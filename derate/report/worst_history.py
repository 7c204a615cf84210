"""The history that a bound fears: what is asked for, how hot it gets, and how hot it might get."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.clock import clock_for
from derate.report.headroom import draw_limit, mark_peak
from derate.report.labels import spread
from derate.report.point_panel import stacked
from derate.report.sheet import drawn, name_axis
from derate.report.strokes import strokes
from derate.report.words import typeset
from derate.report.worst_words import limit_name, thing

if TYPE_CHECKING:
    from derate.limits.worst.replay import Replay
    from derate.limits.worst.study import PlaceBound, Worst

TEMPERATURE_IN, REQUEST_IN = 2.3, 0.55
GAP_IN = 0.64
AROUND_S = 90.0
"""A junction is shown for this long before its peak: what happens earlier makes it warm."""
FAR_K = 12.0
"""A limit so much above all else is left out: the panel is for what happens below."""
LABEL_PT = 11.0
"""Distance of labels right of a panel."""


@drawn
def history_figure(study: "Worst") -> Figure:
    """For each replayed place of the worst unit: its temperature and what is asked for."""
    places = [place for place in study.units[0].places if place.replay is not None]
    heights = [TEMPERATURE_IN, REQUEST_IN] * len(places)
    figure, panels = stacked(heights, gap_in=GAP_IN, right_in=2.2)
    for place, upper, lower in zip(places, panels[::2], panels[1::2], strict=True):
        if place.replay is not None:
            _draw(upper, lower, study, place, place.replay)
    return figure


def _draw(upper: Axes, lower: Axes, study: "Worst", place: "PlaceBound", replay: "Replay") -> None:
    time_s = replay.trace["time_s"]
    end_s = float(time_s[-1])
    begin_s = 0.0
    if place.name.startswith("junction."):
        begin_s = max(0.0, replay.peak_at_s - AROUND_S)
    clock = clock_for(end_s - begin_s)
    shown = time_s >= begin_s
    at = (time_s[shown] - begin_s) / clock.seconds
    upper.plot(at, replay.place_c[shown], color=style.HOTTEST.colour, linewidth=1.6, zorder=3)
    mark_peak(upper, (replay.peak_at_s - begin_s) / clock.seconds, replay.peak_c)
    lines = [
        (place.bound_c, f"bound {place.bound_c:.1f} degC", style.WARNING),
        (replay.peak_c, f"worst history {replay.peak_c:.1f} degC", style.HOTTEST.colour),
        (replay.steady_c, f"steady at full {replay.steady_c:.1f} degC", style.SOFT),
    ]
    upper.axhline(place.bound_c, color=style.WARNING, linewidth=1.2)
    upper.axhline(replay.steady_c, color=style.SOFT, linewidth=0.9, linestyle=(0, (2, 2)))
    high_c = max(place.bound_c, replay.peak_c)
    if place.limit_c < high_c + FAR_K:
        draw_limit(upper, place.limit_c)
        lines.append((place.limit_c, f"{limit_name(place)} {place.limit_c:g} degC", style.INK))
        high_c = max(high_c, place.limit_c)
    low_c = min(float(np.min(replay.place_c[shown])), replay.steady_c)
    room_k = 0.06 * (high_c - low_c)
    upper.set_ylim(low_c - room_k, high_c + room_k)
    upper.set_xlim(0.0, max(float(at[-1]), 1e-9))
    lower.set_xlim(upper.get_xlim())
    _label(upper, lines)
    name_axis(upper, f"{thing(place.name)} [degC]")
    colours = strokes(list(study.lamp.channels))
    for name in study.lamp.channels:
        request = replay.trace[f"request_{name}"][shown]
        lower.step(at, request, where="post", color=colours[name].colour, linewidth=1.0,
                   alpha=0.55)  # fmt: skip
        duty = replay.trace[f"duty_{name}"][shown]
        lower.plot(at, duty, color=colours[name].colour, linewidth=1.4)
    lower.set_ylim(-0.04, 1.08)
    lower.set_yticks([0.0, 1.0])
    name_axis(lower, "asked for (pale) and driven [share]")
    lower.tick_params(labelbottom=True)
    lower.set_xlabel(f"time [{clock.unit}]" + (", the last part" if begin_s > 0.0 else ""))


def _label(panel: Axes, lines: list[tuple[float, str, str]]) -> None:
    """Words at the right end of lines, moved apart."""
    low, high = panel.get_ylim()
    size_pt = 72.0 * panel.get_position().height * panel.figure.get_figheight()  # type: ignore[union-attr]
    each = LABEL_PT * (high - low) / size_pt
    lines.sort(key=lambda line: line[0])
    for (_, text, colour), at in zip(
        lines, spread([line[0] for line in lines], each, low, high), strict=True
    ):
        panel.annotate(
            typeset(text), (1.0, at), xycoords=("axes fraction", "data"), xytext=(6, 0),
            textcoords="offset points", va="center", ha="left", color=colour,
            fontsize=style.SMALL_PT + 0.5, annotation_clip=False,
        )  # fmt: skip
