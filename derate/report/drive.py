"""What the user asks, what thermal control allows, and what is driven."""

from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.verdict import junctions

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_PANELS = 6


@drawn
def drive_figure(result: "Result") -> Figure:
    """One panel a channel: request, limit, duty, and between request and duty what is held back.

    Of more than six channels those with the least margin of the junction.
    """
    trace = result.trace
    everything = list(enumerate(junctions(result)))
    closest = sorted(everything, key=lambda entry: entry[1].margin_k)[:MOST_PANELS]
    shown = [entry for entry in everything if entry in closest]
    sheet = Sheet(result, [1.25] * len(shown))
    for panel, (index, channel) in zip(sheet.panels, shown, strict=True):
        request = 100.0 * trace[f"request_{channel.name}"]
        duty, limit = 100.0 * trace[f"duty_{channel.name}"], 100.0 * trace["limit"]
        driven = style.series(index)._replace(dash="-", width_pt=2.0)
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
                Label("limit", float(limit[-1]), style.INK),
            ],
        )
        _mark_hunting(sheet, panel, result)
        name_axis(panel, f"drive of {channel.name} [% of full]")
    return sheet.figure


def _mark_hunting(sheet: Sheet, panel: Axes, result: "Result") -> None:
    """A ground under the time in which the lamp hunts, and the word at its start."""
    hunting = result.merit.hunting
    if hunting is None:
        return
    hunts = (sheet.time_s >= hunting.start_s) & (sheet.time_s <= hunting.end_s)
    sheet.wash(panel, hunts, style.HUNTING_WASH)
    panel.annotate(
        "hunting",
        (hunting.start_s / sheet.clock.seconds, 0.0),
        xytext=(3, 3),
        textcoords="offset points",
        color=style.SOFT,
        fontsize=style.SMALL_PT,
    )
