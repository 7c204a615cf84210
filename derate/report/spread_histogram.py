"""How hot the units get: a histogram for every place with a limit."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from derate.lamp.limit import limit_words
from derate.report import style
from derate.report.point_panel import beside, stacked
from derate.report.sheet import drawn, name_axis
from derate.report.strokes import strokes
from derate.report.words import number, typeset

if TYPE_CHECKING:
    from derate.study.spread import Spread
    from derate.study.spread_units import Place

PANEL_IN = 1.15
RIGHT_IN = 2.05
LEAST_BINS, MOST_BINS = 12, 60
ROOM = 0.06
"""Room left and right of what is shown, as a share of it."""
LINE = 0.24
"""Distance of the lines of words right of a panel, as a share of its height."""


@drawn
def histogram_figure(study: "Spread") -> Figure:
    """Peaks of all units at each place, the limit, and the guard band below it."""
    figure, panels = stacked(
        [PANEL_IN] * len(study.places), gap_in=0.62, right_in=RIGHT_IN, bottom_in=0.34
    )
    colours = strokes([place.name for place in study.places])
    for i, (panel, place) in enumerate(zip(panels, study.places, strict=True)):
        _draw(panel, study, i, colours[place.name].colour)
        thing = "hottest junction of" if place.junction else "peak of"
        name = place.name if place.junction else limit_words(place.name)
        name_axis(panel, f"units by {thing} {name} [degC]")
    return figure


def _draw(panel: Axes, study: "Spread", i: int, colour: str) -> None:
    place, peaks_c = study.places[i], study.figures.peak_c[:, i]
    counts, edges_c = _bins(peaks_c, place.limit_c)
    heights = counts.astype(float)
    over = edges_c[:-1] >= place.limit_c
    for part, shade in ((~over, colour), (over, style.WARNING)):
        panel.bar(
            edges_c[:-1][part], heights[part], width=np.diff(edges_c)[part], align="edge",
            color=shade, linewidth=0.4, edgecolor="white", zorder=3,
        )  # fmt: skip
    low_c = min(edges_c[0], place.limit_c - study.guard_k)
    high_c = max(edges_c[-1], place.limit_c)
    room_c = ROOM * (high_c - low_c)
    panel.set_xlim(low_c - room_c, high_c + room_c)
    top = 1.12 * max(1.0, float(heights.max()))
    panel.set_ylim(0.0, top)
    panel.yaxis.set_major_locator(MaxNLocator(3, integer=True))
    panel.tick_params(labelbottom=True)
    panel.axvspan(
        place.limit_c - study.guard_k, place.limit_c, color=style.HELD_BACK, linewidth=0, zorder=1
    )
    panel.axvline(
        place.limit_c, color=style.LIMIT.colour, linestyle=style.LIMIT.dash,
        linewidth=style.LIMIT.width_pt, zorder=4,
    )  # fmt: skip
    for row, (words, shade, weight) in enumerate(_words(study, i, colour)):
        beside(panel, words, top * (0.94 - LINE * row), 0.12, edge=1, color=shade, weight=weight)


def _bins(peaks_c: NDArray[np.float64], limit_c: float) -> tuple[NDArray[np.int64], NDArray]:
    """Counts and edges; the limit is an edge where units lie on both sides of it."""
    wanted = len(np.histogram_bin_edges(peaks_c, bins="fd")) - 1
    count = int(np.clip(wanted, LEAST_BINS, MOST_BINS))
    low_c, high_c = float(peaks_c.min()), float(peaks_c.max())
    width_c = max(high_c - low_c, 0.1) / count
    steps = np.arange(count + 1.0)
    if low_c < limit_c < high_c:
        below, above = np.ceil((limit_c - low_c) / width_c), np.ceil((high_c - limit_c) / width_c)
        return np.histogram(peaks_c, limit_c + width_c * np.arange(-below, above + 1.0))
    return np.histogram(peaks_c, np.minimum(low_c + width_c * steps, max(high_c, low_c + 0.1)))


def _words(study: "Spread", i: int, colour: str) -> list[tuple[str, str, str]]:
    """What stands right of a panel: text, colour, weight."""
    place: Place = study.places[i]
    peak, over = study.peaks[i], study.over_each[i]
    median_c, worst_c = number(peak.quantiles[2]), number(peak.worst)
    ended = (f"{over.over} of {over.drawn} over", style.WARNING, "bold")
    none = (f"none of {over.drawn} over", style.SOFT, "normal")
    return [
        (f"limit {place.limit_c:g} degC, guard {study.guard_k:g} K", style.INK, "normal"),
        (f"median {median_c}, worst {worst_c} degC", colour, "bold"),
        (f"99 % are below {number(peak.quantiles[-1])} degC", colour, "normal"),
        ended if over.over else none,
    ]


def histogram_alt(study: "Spread") -> str:
    """The histograms in words."""
    told = (
        f"{place.name}: median {peak.quantiles[2]:.1f} degC, worst {peak.worst:.1f} degC, limit "
        f"{place.limit_c:g} degC"
        for place, peak in zip(study.places, study.peaks, strict=True)
    )
    return typeset("Histograms of the units' peaks. " + "; ".join(told))
