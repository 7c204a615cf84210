"""What the user asks, what thermal control allows, and what is driven."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.report import style
from derate.report.closeup import ROOM_IN, close_rows, draw_closeup
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.strokes import channel_strokes
from derate.report.verdict import tightest_junctions

if TYPE_CHECKING:
    from derate.loop.merit import Hunting
    from derate.loop.run import Result

MOST_PANELS = 6


@drawn
def drive_figure(result: "Result") -> Figure:
    """One panel a channel: request, limit, duty, and between request and duty what is held back.

    Of more than six channels those with the least margin of the junction. If the lamp hunts, a
    close-up of the hunting beneath.
    """
    shown = tightest_junctions(result, MOST_PANELS)
    hunting, found = result.merit.hunting, channel_strokes(result)
    sheet = Sheet(result, [1.25] * len(shown), beneath_in=ROOM_IN if hunting else 0.0)
    for panel, channel in zip(sheet.panels, shown, strict=True):
        width_pt = style.FINE_PT if hunting else 2.0
        stroke = found[channel.name]._replace(dash="-", width_pt=width_pt)
        _draw_channel(sheet, panel, result, channel.name, stroke)
    if hunting:
        rows = close_rows(sheet.time_s, hunting)
        for panel in sheet.panels:
            _mark_hunting(sheet, panel, hunting, rows)
        draw_closeup(sheet, result, rows)
    return sheet.figure


def _draw_channel(
    sheet: Sheet, panel: Axes, result: "Result", name: str, driven: style.Stroke
) -> None:
    """Request, limit and duty of one channel over the whole run."""
    trace = result.trace
    request, duty = 100.0 * trace[f"request_{name}"], 100.0 * trace[f"duty_{name}"]
    limit = 100.0 * trace["limit"]
    sheet.between(panel, duty, request, style.HELD_BACK)
    sheet.line(panel, request, style.ASKED, stepped=True, rank=1.9)
    sheet.line(panel, duty, driven, stepped=True)
    sheet.line(panel, limit, style.CONTROL_LIMIT, stepped=True, rank=2.1)
    panel.set_ylim(0.0, 105.0)
    panel.set_yticks([0, 50, 100])
    sheet.label(
        panel,
        [
            Label("requested", float(request[-1]), style.SOFT),
            Label("driven", float(duty[-1]), driven.colour),
            Label("drive limit", float(limit[-1]), style.INK),
        ],
    )
    name_axis(panel, f"drive of {name} [% of full]")


def _mark_hunting(sheet: Sheet, panel: Axes, hunting: "Hunting", rows: NDArray[np.intp]) -> None:
    """A ground under the hunting, darker where the close-up lies, and the word at its start."""
    time_s = sheet.time_s
    close = (time_s >= time_s[rows[0]]) & (time_s < time_s[rows[-1]])
    sheet.wash(panel, (time_s >= hunting.start_s) & (time_s <= hunting.end_s), style.HUNTING_WASH)
    sheet.wash(panel, close, style.CLOSE_UP_WASH)
    panel.annotate(
        "hunting",
        (hunting.start_s / sheet.clock.seconds, 0.0),
        xytext=(3, 3),
        textcoords="offset points",
        color=style.SOFT,
        fontsize=style.SMALL_PT,
    )
