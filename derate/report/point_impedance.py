"""Thermal impedance: how far one watt has warmed a junction, a moment after it came on."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator
from numpy.typing import NDArray

from derate.report import style
from derate.report.point_panel import stacked
from derate.report.point_words import closest_channels
from derate.report.sheet import Label, drawn
from derate.report.strokes import strokes
from derate.report.table_panel import name_axes, name_lines
from derate.report.words import duration, figures

if TYPE_CHECKING:
    from derate.study.impedance import Impedance
    from derate.study.point import PointStudy

HEIGHT_IN = 2.3
MOST_CHANNELS = 3
AMBIENT_PT = 2.2
SETTLED = 0.002
"""A rise this near to its end, as a share of it, has come to rest."""
BEGUN = 0.01
"""A rise below this share of the whole is not worth showing."""


@drawn
def impedance_figure(study: "PointStudy") -> Figure:
    """A panel a channel: its hottest junction above solder, board, sensors and ambient."""
    shown = [one.name for one in closest_channels(study, MOST_CHANNELS)]
    found = [one for one in study.impedances if one.channel in shown]
    figure, panels = stacked([HEIGHT_IN] * len(found), gap_in=0.46)
    span_s = _span_s(found)
    colours = strokes(list(study.requests))
    for number, (panel, one) in enumerate(zip(panels, found, strict=True)):
        _draw(panel, one, colours[one.channel].colour, span_s)
        last = number == len(found) - 1
        name_axes(panel, "time since the watt came on" if last else None,
                  f"hottest junction of {one.channel} above each place [K/W]")  # fmt: skip
    return figure


def _draw(panel: Axes, one: "Impedance", colour: str, span_s: tuple[float, float]) -> None:
    """The rise above the ambient thick, above nearer places thin and each in a dash of its own."""
    panel.set_xscale("log")
    panel.set_xlim(*span_s)
    lines = {"solder": one.solder_k_per_w, **one.to, "ambient": one.ambient_k_per_w}
    whole_k_per_w = max(float(np.max(rise)) for rise in lines.values())
    panel.set_yscale("log")
    panel.set_ylim(*_decades(BEGUN * whole_k_per_w, 1.1 * whole_k_per_w))
    labels = []
    seen = one.time_s <= span_s[1]
    for number, (name, rise) in enumerate(lines.items()):
        whole = name == "ambient"
        dash, width_pt = ("-", AMBIENT_PT) if whole else style.DASHES[1 + number % 5]
        panel.plot(one.time_s, rise, color=colour, linestyle=dash, linewidth=width_pt, zorder=3)
        end = float(rise[seen][-1])
        words = f"{name.removeprefix('place.')} {figures(end)}"
        labels.append(Label(words, end, style.INK if whole else style.SOFT))
    panel.yaxis.set_major_locator(LogLocator(10.0))
    panel.yaxis.set_minor_locator(LogLocator(10.0, subs=(2.0, 5.0)))
    for formatted in (panel.yaxis.set_major_formatter, panel.yaxis.set_minor_formatter):
        formatted(FuncFormatter(lambda rise, _: f"{rise:g}"))
    panel.tick_params(axis="y", which="minor", labelsize=style.SMALL_PT - 1.0, colors=style.SOFT)
    panel.xaxis.set_major_locator(LogLocator(10.0, numticks=20))
    panel.xaxis.set_minor_locator(NullLocator())
    panel.xaxis.set_major_formatter(FuncFormatter(lambda time_s, _: decade(time_s)))
    panel.grid(axis="x", color=style.GRID, linewidth=0.8)
    name_lines(panel, labels)


def _decades(low: float, high: float) -> tuple[float, float]:
    """The steps 1, 2, 5, 10 below and above two values."""
    steps = np.outer(10.0 ** np.arange(-12, 13), (1.0, 2.0, 5.0)).ravel()
    return float(steps[steps <= low][-1]), float(steps[steps >= high][0])


def decade(time_s: float) -> str:
    """A power of ten of seconds as one says it."""
    if time_s < 0.9e-3:
        return f"{1e6 * time_s:.3g} \N{MICRO SIGN}s"
    return duration(time_s) if time_s < 1.0 else f"{time_s:,.0f} s".replace(",", "\N{THIN SPACE}")


def _span_s(found: "list[Impedance]") -> tuple[float, float]:
    """From where a rise begins to where all have come to rest [s]."""
    starts, ends = [1.0], [10.0]
    for one in found:
        rise: NDArray[np.float64] = one.ambient_k_per_w
        last = float(rise[-1])
        begun, settled = rise > BEGUN * last, rise < (1.0 - SETTLED) * last
        starts.append(float(one.time_s[begun][0]) if np.any(begun) else 1.0)
        ends.append(float(one.time_s[settled][-1]) if np.any(settled) else 10.0)
    last_s = max(float(one.time_s[-1]) for one in found)
    end_s = min(10.0 ** np.ceil(np.log10(max(ends))), last_s)
    return 10.0 ** np.floor(np.log10(min(starts))), end_s
