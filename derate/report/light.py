"""Light delivered against light asked for."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from derate.report import style
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.strokes import channel_strokes

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_LINES = 6


@drawn
def light_figure(result: "Result") -> Figure:
    """Light asked for and delivered, what is held back between them; the share beneath."""
    trace = result.trace
    sheet = Sheet(result, [2.2, 0.9])
    above, beneath = sheet.panels
    delivered = style.Stroke(style.INK, "-", style.FINE_PT if result.merit.hunting else 1.7)
    sheet.between(above, trace["light_lm"], trace["asked_lm"], style.HELD_BACK)
    sheet.line(above, trace["asked_lm"], style.ASKED, stepped=True, rank=1.9)
    sheet.line(above, trace["light_lm"], delivered, stepped=True)
    labels = [
        Label("asked for", float(trace["asked_lm"][-1]), style.SOFT),
        Label("delivered", float(trace["light_lm"][-1]), delivered.colour),
    ]
    channels = list(result.merit.channels)[:MOST_LINES]
    found = channel_strokes(result)
    for name in channels if len(channels) > 1 else []:
        stroke, lm = found[name], trace[f"light_{name}_lm"]
        sheet.line(above, lm, stroke._replace(width_pt=1.1), stepped=True)
        labels.append(Label(name, float(lm[-1]), stroke.colour))
    above.set_ylim(0.0, 1.06 * max(float(trace["asked_lm"].max()), 1e-9))
    sheet.label(above, labels)
    name_axis(above, "luminous flux [lm]")

    lit = trace["asked_lm"] > 0
    share = np.divide(
        trace["light_lm"], trace["asked_lm"], out=np.full(len(lit), np.nan), where=lit
    )
    sheet.between(beneath, 100.0 * share, np.full(len(lit), 100.0), style.HELD_BACK)
    sheet.line(beneath, 100.0 * share, delivered, stepped=True)
    beneath.set_ylim(0.0, 106.0)
    beneath.set_yticks([0, 50, 100])
    name_axis(beneath, "delivered of what was asked [%]")
    return sheet.figure
