"""The whole run in one picture: temperatures, drive and light over one time axis."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.headroom import mark_peak
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.verdict import Limited, headline, junctions
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_CHANNELS = 4


@drawn
def overview_figure(result: "Result") -> Figure:
    """Three panels under the verdict; of more than four channels those with the least margin."""
    everything = list(enumerate(junctions(result)))
    closest = sorted(everything, key=lambda entry: entry[1].margin_k)[:MOST_CHANNELS]
    shown = [entry for entry in everything if entry in closest]
    sheet = Sheet(result, [2.1, 1.15, 1.15], head=_head(result))
    temperatures, drive, light = sheet.panels
    _draw_temperatures(sheet, temperatures, result, shown)
    _draw_drive(sheet, drive, result, shown)
    _draw_light(sheet, light, result)
    return sheet.figure


def _head(result: "Result") -> tuple[str, str]:
    """The verdict, and which lamp and profile it is about."""
    return (typeset(headline(result)), f"{result.lamp.name}, profile {result.profile_name}")


def _draw_temperatures(
    sheet: Sheet, panel: Axes, result: "Result", shown: list[tuple[int, Limited]]
) -> None:
    """Junctions with their limits, the reading, the ambient."""
    trace, labels = result.trace, []
    for limit_c in sorted({channel.limit_c for _, channel in shown}):
        panel.axhline(
            limit_c,
            color=style.LIMIT.colour,
            linestyle=style.LIMIT.dash,
            linewidth=style.LIMIT.width_pt,
        )
        labels.append(Label(f"limit {limit_c:g} degC", limit_c, style.WARNING))
    for index, channel in shown:
        stroke = style.series(index)
        sheet.line(panel, trace[channel.column], stroke)
        labels.append(Label(channel.name, float(trace[channel.column][-1]), stroke.colour))
    sensor = next(iter(result.merit.sensors))
    sheet.line(panel, trace[f"thermistor_{sensor}_c"], style.TRUTH._replace(width_pt=2.0), rank=1.9)
    labels.append(Label("thermistor", float(trace[f"thermistor_{sensor}_c"][-1]), style.SOFT))
    ambient = next(name for name in trace.names if name.startswith("ambient_"))
    sheet.line(panel, trace[ambient], style.AMBIENT, rank=1.8)
    labels.append(Label("ambient", float(trace[ambient][-1]), style.AMBIENT.colour))
    closest = min((channel for _, channel in shown), key=lambda channel: channel.margin_k)
    mark_peak(panel, closest.peak_at_s / sheet.clock.seconds, closest.peak_c)
    low_c = float(np.min(trace[ambient]))
    high_c = max(max(c.peak_c, c.limit_c) for _, c in shown)
    panel.set_ylim(low_c - 0.06 * (high_c - low_c), high_c + 0.06 * (high_c - low_c))
    sheet.label(panel, labels)
    name_axis(panel, "junctions [degC]")


def _draw_drive(
    sheet: Sheet, panel: Axes, result: "Result", shown: list[tuple[int, Limited]]
) -> None:
    """The largest request, every duty, and the limit."""
    trace = result.trace
    request = 100.0 * np.max([trace[f"request_{name}"] for name in result.merit.channels], axis=0)
    sheet.line(panel, request, style.ASKED, stepped=True, rank=1.9)
    labels = [Label("requested", float(request[-1]), style.SOFT)]
    for index, channel in shown:
        stroke, duty = style.series(index), 100.0 * trace[f"duty_{channel.name}"]
        sheet.line(panel, duty, stroke, stepped=True)
        labels.append(Label(channel.name, float(duty[-1]), stroke.colour))
    limit = 100.0 * trace["limit"]
    sheet.line(panel, limit, style.CONTROL_LIMIT, stepped=True, rank=2.1)
    labels.append(Label("limit", float(limit[-1]), style.INK))
    panel.set_ylim(0.0, 105.0)
    panel.set_yticks([0, 50, 100])
    sheet.label(panel, labels)
    name_axis(panel, "drive [% of full]")


def _draw_light(sheet: Sheet, panel: Axes, result: "Result") -> None:
    """Light asked for and delivered; between them what is held back."""
    trace = result.trace
    asked, light = trace["asked_lm"], trace["light_lm"]
    sheet.between(panel, light, asked, style.HELD_BACK)
    sheet.line(panel, asked, style.ASKED, stepped=True, rank=1.9)
    sheet.line(panel, light, style.Stroke(style.INK, "-", 1.7), stepped=True)
    panel.set_ylim(0.0, 1.08 * max(float(asked.max()), 1e-9))
    sheet.label(
        panel,
        [
            Label("asked for", float(asked[-1]), style.SOFT),
            Label("delivered", float(light[-1]), style.INK),
        ],
    )
    name_axis(panel, "light [lm]")
