"""Hunting seen close: about three periods of it on a time axis of their own."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray

from derate.report import style
from derate.report.clock import Clock, clock_for
from derate.report.envelope import envelope
from derate.report.sheet import Label, Sheet, last_number, name_axis, plain
from derate.report.strokes import channel_strokes
from derate.report.words import duration

if TYPE_CHECKING:
    from derate.loop.merit import Hunting
    from derate.loop.run import Result

PERIODS = 3
HEIGHTS_IN = (1.15, 1.0)
ABOVE_IN = 0.32
ROOM_IN = ABOVE_IN + sum(HEIGHTS_IN) + style.GAP_IN + style.BOTTOM_IN
"""Height that a sheet keeps free beneath its panels for the close-up."""


def close_rows(time_s: NDArray[np.float64], hunting: "Hunting") -> NDArray[np.intp]:
    """Rows of three periods in the middle of the hunting, or of all of it if it is shorter."""
    middle_s, half_s = (hunting.start_s + hunting.end_s) / 2, PERIODS * hunting.period_s / 2
    first = int(np.searchsorted(time_s, max(middle_s - half_s, hunting.start_s)))
    last = int(np.searchsorted(time_s, min(middle_s + half_s, hunting.end_s), side="right"))
    return np.arange(first, max(last, first + 2))


def draw_closeup(sheet: Sheet, result: "Result", rows: NDArray[np.intp]) -> None:
    """Drive of the channel that is held back most, and beneath it what the firmware reads."""
    time_s = sheet.time_s[rows]
    clock = clock_for(float(time_s[-1] - time_s[0]))
    drive, reading = _panels(sheet, clock, time_s)
    _draw_drive(_Pen(sheet, drive, clock, rows), result)
    _draw_reading(_Pen(sheet, reading, clock, rows), result)
    reading.set_xlabel(
        f"time from {duration(float(time_s[0]))} on [{clock.unit}]", color=style.SOFT, labelpad=2
    )


class _Pen:
    """Draws rows of a trace, as steps, on the time axis of a close-up."""

    def __init__(self, sheet: Sheet, panel: Axes, clock: Clock, rows: NDArray[np.intp]) -> None:
        self.sheet, self.panel, self.rows = sheet, panel, rows
        self.time = (sheet.time_s[rows] - sheet.time_s[rows[0]]) / clock.seconds

    def line(
        self, value: NDArray[np.float64], stroke: style.Stroke, text: str, colour: str
    ) -> Label:
        """Draw a trace, its last step left out; returns the label of its right end."""
        seen = value[self.rows]
        seen[-1] = seen[-2]
        kept = envelope(seen)
        self.panel.plot(
            self.time[kept],
            seen[kept],
            color=stroke.colour,
            linestyle=stroke.dash,
            linewidth=stroke.width_pt,
            drawstyle="steps-post",
        )
        return Label(text, last_number(seen), colour)


def _panels(sheet: Sheet, clock: Clock, time_s: NDArray[np.float64]) -> tuple[Axes, Axes]:
    """Two empty panels in the room beneath the sheet's own, time written under the second."""
    upper_in, lower_in = HEIGHTS_IN
    feet_in = (style.BOTTOM_IN + lower_in + style.GAP_IN, style.BOTTOM_IN)
    panels = []
    for foot_in, height_in in zip(feet_in, (upper_in, lower_in), strict=True):
        panel = sheet.add_panel(foot_in, height_in)
        panel.set_xlim(0.0, float(time_s[-1] - time_s[0]) / clock.seconds)
        panel.xaxis.set_major_locator(MultipleLocator(clock.tick))
        plain(panel, last=foot_in == style.BOTTOM_IN)
        panels.append(panel)
    return panels[0], panels[1]


def _draw_drive(pen: _Pen, result: "Result") -> None:
    trace = result.trace
    held_back = {
        name: float(np.mean((trace[f"request_{name}"] - trace[f"duty_{name}"])[pen.rows]))
        for name in result.merit.channels
    }
    name = max(held_back, key=lambda channel: held_back[channel])
    driven = channel_strokes(result)[name]._replace(dash="-", width_pt=2.0)
    labels = [
        pen.line(100.0 * trace[f"request_{name}"], style.ASKED, "requested", style.SOFT),
        pen.line(100.0 * trace[f"duty_{name}"], driven, "driven", driven.colour),
        pen.line(100.0 * trace["limit"], style.CONTROL_LIMIT, "drive limit", style.INK),
    ]
    pen.panel.set_ylim(0.0, 105.0)
    pen.panel.set_yticks([0, 50, 100])
    pen.sheet.label(pen.panel, labels)
    name_axis(pen.panel, f"close-up of the hunting: drive of {name} [% of full]")


def _draw_reading(pen: _Pen, result: "Result") -> None:
    sensor = next(iter(result.merit.sensors))
    labels = [
        pen.line(result.trace[f"thermistor_{sensor}_c"], style.TRUTH, "thermistor", style.SOFT),
        pen.line(result.trace[f"reading_{sensor}_c"], style.READING, "reading", style.INK),
    ]
    pen.panel.margins(y=0.1)
    pen.panel.locator_params(axis="y", nbins=4)
    pen.sheet.label(pen.panel, labels)
    name_axis(pen.panel, f"close-up of the hunting: sensor {sensor} [degC]")
