"""Junction temperature of every channel against its limit."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report import style
from derate.report.headroom import PANEL_IN, draw_headroom
from derate.report.sheet import Sheet, drawn
from derate.report.verdict import junctions

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_PANELS = 6


@drawn
def junction_figure(result: "Result") -> Figure:
    """One panel a channel; of more than six channels the six with the least margin."""
    everything = list(enumerate(junctions(result)))
    closest = sorted(everything, key=lambda entry: entry[1].margin_k)[:MOST_PANELS]
    shown = [entry for entry in everything if entry in closest]
    sheet = Sheet(result, [PANEL_IN] * len(shown))
    for panel, (index, limited) in zip(sheet.panels, shown, strict=True):
        draw_headroom(sheet, panel, limited, result.trace[limited.column], style.series(index))
    return sheet.figure
