"""A run beside the possible as a figure."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from derate.report import style
from derate.report.kind import Kind
from derate.report.possible_words import possible_sentence
from derate.report.sheet import Label, Sheet, drawn, name_axis

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.possible import Possible

SECONDS_PER_HOUR = 3600.0
PLAN = style.Stroke("#2a9268", "-", 1.3)


def possible_kind(possible: "Possible") -> Kind["Result"]:
    """The figure of a run beside a plan that comes close to the possible."""
    return Kind(
        "possible",
        "Beside the possible",
        lambda result: possible_figure(result, possible),
        lambda result: (
            "Luminous flux delivered and that of a plan that knows the future, and the light by "
            f"which the run lies behind it. {possible_sentence(result, possible)}"
        ),
        "The green plan knows the whole profile and every temperature, and holds every limit: no "
        "controller can do much better. Where the run lies beneath it, light was held back that "
        "need not have been; where it lies above, it spends what the plan saves for later.",
    )


@drawn
def possible_figure(result: "Result", possible: "Possible") -> Figure:
    """Light delivered and planned over time; beneath, how far the run lies behind the plan."""
    trace = result.trace
    time_s, delivered = trace["time_s"], trace["light_lm"]
    slot = np.searchsorted(possible.edge_s, time_s, side="right") - 1
    planned = possible.plan_lm[np.clip(slot, 0, len(possible.plan_lm) - 1)]
    sheet = Sheet(result, [2.2, 0.9])
    above, beneath = sheet.panels
    ink = style.Stroke(style.INK, "-", style.FINE_PT if result.merit.hunting else 1.7)
    sheet.between(above, delivered, planned, style.HELD_BACK)
    sheet.line(above, trace["asked_lm"], style.ASKED, stepped=True, rank=1.9)
    sheet.line(above, planned, PLAN, stepped=True, rank=2.1)
    sheet.line(above, delivered, ink, stepped=True)
    above.set_ylim(0.0, 1.06 * max(float(trace["asked_lm"].max()), float(planned.max()), 1e-9))
    sheet.label(
        above,
        [
            Label("asked for", float(trace["asked_lm"][-1]), style.SOFT),
            Label("plan", float(planned[-1]), PLAN.colour),
            Label("delivered", float(delivered[-1]), ink.colour),
        ],
    )
    name_axis(above, "luminous flux [lm]")
    passed_s = np.diff(time_s, prepend=time_s[0])
    mean_lm = np.concatenate(([0.0], delivered[:-1]))
    edges_lm_s = np.concatenate(([0.0], np.cumsum(possible.plan_lm * np.diff(possible.edge_s))))
    by_plan = np.interp(time_s, possible.edge_s, edges_lm_s)
    behind = (by_plan - np.cumsum(mean_lm * passed_s)) / SECONDS_PER_HOUR
    sheet.line(beneath, behind, ink)
    beneath.axhline(0.0, color=style.PALE, linewidth=0.8, zorder=1)
    name_axis(beneath, "behind the plan [lm h]")
    return sheet.figure
