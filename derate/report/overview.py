"""The whole run in one picture: temperatures, drive and light over one time axis."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.strokes import channel_strokes
from derate.report.temperatures import draw_temperatures
from derate.report.verdict import Limited, headline, tightest_junctions
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_CHANNELS = 4
LEAST_AIRFLOW = 1e-3
"""A range of airflow that is worth a strip of its own [-]."""


@drawn
def overview_figure(result: "Result") -> Figure:
    """Temperatures, drive and light under the verdict, and the airflow if it varies.

    Of more than four channels those with the least margin.
    """
    shown = tightest_junctions(result, MOST_CHANNELS)
    varies = bool(np.ptp(result.trace["airflow"]) > LEAST_AIRFLOW)
    sheet = Sheet(result, [2.1, *([0.4] if varies else []), 1.15, 1.15], head=_head(result))
    temperatures, drive, light = sheet.panels[0], sheet.panels[-2], sheet.panels[-1]
    draw_temperatures(sheet, temperatures, result, shown)
    if varies:
        _draw_airflow(sheet, sheet.panels[1], result)
    _draw_drive(sheet, drive, result, shown)
    _draw_light(sheet, light, result)
    return sheet.figure


def _head(result: "Result") -> tuple[str, str]:
    """The verdict, and which lamp and profile it is about."""
    return (typeset(headline(result)), f"{result.lamp.name}, profile {result.profile_name}")


def _draw_airflow(sheet: Sheet, panel: Axes, result: "Result") -> None:
    """The factor on the conductances that move with the air, in a slim strip."""
    airflow = result.trace["airflow"]
    sheet.line(panel, airflow, style.AIRFLOW, stepped=True)
    top = max(1.0, float(airflow.max()))
    panel.set_ylim(0.0, 1.12 * top)
    panel.set_yticks([0.0, 1.0])
    name_axis(panel, "airflow, 1 = as in the lamp file")


def _draw_drive(sheet: Sheet, panel: Axes, result: "Result", shown: tuple[Limited, ...]) -> None:
    """The largest request, every duty, and the limit."""
    trace = result.trace
    request = 100.0 * np.max([trace[f"request_{name}"] for name in result.merit.channels], axis=0)
    sheet.line(panel, request, style.ASKED, stepped=True, rank=1.9)
    asked = "requested" if len(result.merit.channels) == 1 else "largest request"
    labels = [Label(asked, float(request[-1]), style.SOFT)]
    found, busy = channel_strokes(result), len(shown) > 2 or result.merit.hunting
    for channel in shown:
        stroke, duty = found[channel.name], 100.0 * trace[f"duty_{channel.name}"]
        stroke = stroke._replace(width_pt=style.FINE_PT) if busy else stroke
        sheet.line(panel, duty, stroke, stepped=True)
        labels.append(Label(channel.name, float(duty[-1]), stroke.colour))
    limit = 100.0 * trace["limit"]
    sheet.line(panel, limit, style.CONTROL_LIMIT, stepped=True, rank=2.1)
    labels.append(Label("drive limit", float(limit[-1]), style.INK))
    panel.set_ylim(0.0, 105.0)
    panel.set_yticks([0, 50, 100])
    sheet.label(panel, labels)
    name_axis(panel, "drive [% of full]")


def _draw_light(sheet: Sheet, panel: Axes, result: "Result") -> None:
    """Light asked for and delivered; between them what is held back."""
    trace = result.trace
    width_pt = style.FINE_PT if result.merit.hunting else 1.7
    asked, light = trace["asked_lm"], trace["light_lm"]
    sheet.between(panel, light, asked, style.HELD_BACK)
    sheet.line(panel, asked, style.ASKED, stepped=True, rank=1.9)
    sheet.line(panel, light, style.Stroke(style.INK, "-", width_pt), stepped=True)
    panel.set_ylim(0.0, 1.08 * max(float(asked.max()), 1e-9))
    sheet.label(
        panel,
        [
            Label("asked for", float(asked[-1]), style.SOFT),
            Label("delivered", float(light[-1]), style.INK),
        ],
    )
    name_axis(panel, "light [lm]")
