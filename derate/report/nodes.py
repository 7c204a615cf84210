"""The other temperatures: nodes with a limit each in a panel, all nodes together beneath."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report import style
from derate.report.headroom import PANEL_IN, draw_headroom
from derate.report.sheet import Label, Sheet, drawn, name_axis
from derate.report.strokes import strokes
from derate.report.verdict import limited_nodes

if TYPE_CHECKING:
    from derate.loop.run import Result

MOST_PANELS = 4
MOST_LINES = 8


@drawn
def node_figure(result: "Result") -> Figure:
    """Limited nodes (of more than four those with the least margin), then the hottest nodes."""
    limited = sorted(limited_nodes(result), key=lambda node: node.margin_k)[:MOST_PANELS]
    sheet = Sheet(result, [PANEL_IN] * len(limited) + [1.9])
    for panel, node in zip(sheet.panels, limited, strict=False):
        draw_headroom(sheet, panel, node, result.trace[node.column], style.NODE)
    _draw_all(sheet, result)
    return sheet.figure


def _draw_all(sheet: Sheet, result: "Result") -> None:
    """The hottest nodes of the lamp and the ambients in the last panel."""
    panel, trace = sheet.panels[-1], result.trace
    names = [name for name in trace.names if name.startswith("node_")]
    names.sort(key=lambda name: float(trace[name].max()), reverse=True)
    labels = []
    shown = {name.removeprefix("node_").removesuffix("_c"): name for name in names[:MOST_LINES]}
    for text, stroke in strokes(list(shown)).items():
        name = shown[text]
        sheet.line(panel, trace[name], stroke)
        labels.append(Label(text, float(trace[name][-1]), stroke.colour))
    for name in trace.names:
        if name.startswith("ambient_"):
            sheet.line(panel, trace[name], style.AMBIENT, rank=1.5)
            text = name.removesuffix("_c").removeprefix("ambient_")
            labels.append(Label(text, float(trace[name][-1]), style.AMBIENT.colour))
    panel.margins(y=0.06)
    sheet.label(panel, labels)
    name_axis(panel, "nodes and ambient [degC]")
