"""What one code is worth in kelvin, with the resistor of the sensor and with others."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter
from numpy.typing import NDArray

from derate.report import style
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, note, panels, raised, wash_faults
from derate.sensing.description import ohm_words

if TYPE_CHECKING:
    from derate.lamp.sensor import Sensor
    from derate.sensing.design import Candidate

HEIGHT_IN = 3.0
ABOVE_IN = 0.17
"""Room for the words on the fault windows between the panel and its name."""
HEADROOM = 1.5
"""Factor above the highest line, for the words on the range of interest."""
BEYOND_K = 30.0
"""Shown beyond the working range, to where the fault windows fire."""
MOST_OTHERS = 3
POINTS = 160
PRESENT = style.Stroke(style.PALETTE[0], "-", 2.4)


@drawn
def resolution_figure(
    sensor: "Sensor", candidates: Sequence["Candidate"], interest_c: tuple[float, float]
) -> Figure:
    """Kelvin per code against temperature; each line ends where a fault window would fire."""
    figure, (panel,) = panels((HEIGHT_IN,), above_in=ABOVE_IN)
    low_c, high_c = sensor.thermistor.range_c
    panel.set_xlim(max(low_c - BEYOND_K, -60.0), min(high_c + BEYOND_K, 200.0))
    panel.set_yscale("log")
    present = next(one for one in candidates if one.present)
    lines = [_line(panel, sensor, present, PRESENT)]
    for one, (dash, width_pt), colour in zip(
        others(candidates), style.DASHES[1:], style.PALETTE[1:], strict=False
    ):
        lines.append(_line(panel, sensor, one, style.Stroke(colour, dash, width_pt)))
    panel.yaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0), numticks=20))
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    panel.yaxis.set_minor_formatter(NullFormatter())
    foot, top = panel.get_ylim()
    panel.set_ylim(foot, HEADROOM * top)
    _mark_windows(panel, present)
    _mark_interest(panel, interest_c)
    name_lines(panel, [label for label, _ in lines], [end_c for _, end_c in lines])
    name_axes(panel, "temperature of the thermistor [degC]", "what one code is worth [K]")
    panel.yaxis.set_label_coords(*raised(panel, ABOVE_IN))
    return figure


def others(candidates: Sequence["Candidate"]) -> list["Candidate"]:
    """Other resistors worth seeing: the best, and the least and most that can be used."""
    usable = [one for one in candidates if one.refused is None and not one.present]
    if not usable:
        return []
    by_ohm = sorted(usable, key=lambda one: one.resistor_ohm)
    chosen = [usable[0], by_ohm[0], by_ohm[-1]]
    return list({one.resistor_ohm: one for one in chosen}.values())[:MOST_OTHERS]


def _line(
    panel: Axes, sensor: "Sensor", one: "Candidate", stroke: style.Stroke
) -> tuple[Label, float]:
    """One resistor, from where its window for an open fires to where that for a short does.

    Returns its name and the temperature [degC] its line ends at.
    """
    celsius, step_k = resolution(sensor, one, panel.get_xlim())
    panel.plot(
        celsius, step_k, color=stroke.colour, linestyle=stroke.dash, linewidth=stroke.width_pt,
        zorder=4 if one.present else 3,
    )  # fmt: skip
    for end, fires_c in ((0, one.open_fires_c), (-1, one.short_fires_c)):
        if math.isfinite(fires_c) and panel.get_xlim()[0] < fires_c < panel.get_xlim()[1]:
            panel.plot(
                celsius[end], step_k[end], marker="x", color=stroke.colour, markersize=5, zorder=5
            )
    name = ohm_words(one.resistor_ohm) + (", in the lamp" if one.present else "")
    return Label(name, float(step_k[-1]), stroke.colour), float(celsius[-1])


def resolution(
    sensor: "Sensor", one: "Candidate", shown_c: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Temperatures [degC] between the fault windows, and what one code is worth there [K]."""
    from derate.sensing import circuit as circuits
    from derate.sensing.design import kelvin_per_code

    divider = sensor.divider.model_copy(update={"resistor_ohm": one.resistor_ohm})
    circuit = circuits.from_lamp(sensor.model_copy(update={"divider": divider}))
    low_c, high_c = shown_c
    low_c = max(low_c, one.open_fires_c) if math.isfinite(one.open_fires_c) else low_c
    high_c = min(high_c, one.short_fires_c) if math.isfinite(one.short_fires_c) else high_c
    celsius = np.linspace(low_c, high_c, POINTS)
    step_k = kelvin_per_code(circuit, celsius)
    seen = np.isfinite(step_k)
    return celsius[seen], step_k[seen]


def _mark_windows(panel: Axes, present: "Candidate") -> None:
    """Where the present chain would be taken for broken; said above, where no line is."""
    left, right = panel.get_xlim()
    low_c = present.open_fires_c if math.isfinite(present.open_fires_c) else left
    high_c = present.short_fires_c if math.isfinite(present.short_fires_c) else right
    wash_faults(panel, low_c, high_c)
    top = panel.get_ylim()[1]
    for celsius, edge_c, text, beyond in (
        (low_c, left, "open", "below"), (high_c, right, "short", "above")
    ):  # fmt: skip
        if left < celsius < right:
            note(
                panel, f"taken for {text} {beyond} {celsius:.0f} degC", (edge_c, top),
                offset_pt=(0, 3), va="bottom", ha="left" if edge_c == left else "right",
                color=style.WARNING, bbox=None,
            )  # fmt: skip


def _mark_interest(panel: Axes, interest_c: tuple[float, float]) -> None:
    """The range of interest, over which resistors are judged."""
    for celsius in interest_c:
        panel.axvline(
            celsius, color=style.SOFT, linewidth=0.8, linestyle=style.AMBIENT.dash, zorder=1
        )
    top = panel.get_ylim()[1]
    text = f"range of interest, {interest_c[0]:g} to {interest_c[1]:g} degC"
    note(panel, text, (interest_c[0], top), offset_pt=(4, -3), va="top")
