"""Junction temperature of every channel against its limit."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report.headroom import PANEL_IN, draw_headroom
from derate.report.sheet import Sheet, drawn
from derate.report.strokes import channel_strokes
from derate.report.verdict import tightest_junctions

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_PANELS = 6


@drawn
def junction_figure(result: "Result") -> Figure:
    """One panel a channel; of more than six channels the six with the least margin."""
    shown = tightest_junctions(result, MOST_PANELS)
    found = channel_strokes(result)
    sheet = Sheet(result, [PANEL_IN] * len(shown))
    for panel, limited in zip(sheet.panels, shown, strict=True):
        draw_headroom(
            sheet,
            panel,
            limited,
            result.trace[limited.column],
            found[limited.name]._replace(dash="-"),
        )
    return sheet.figure
