"""What a smaller error costs: bytes and steps of arithmetic, for every kind of table."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from derate.report import style
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, note, panels, share
from derate.report.words import figures

if TYPE_CHECKING:
    from derate.sensing.tables import ReadingTable

HEIGHTS_IN = (2.7, 1.2)
FAR_LEFT = 0.5
"""A line that ends before this share of the panel is named beside its end."""
KINDS = ("placed knots", "temperature steps", "code steps", "direct")
STROKES = {
    "placed knots": style.Stroke(style.PALETTE[0], "-", 2.0),
    "temperature steps": style.Stroke(style.PALETTE[2], (0, (6, 1.4)), 1.6),
    "code steps": style.Stroke(style.PALETTE[1], (0, (5, 1.3, 1.2, 1.3)), 1.6),
    "direct": style.Stroke(style.PALETTE[3], (0, (1.4, 1.1)), 1.8),
}
MARKS = {"placed knots": "o", "temperature steps": "s", "code steps": "D", "direct": "^"}


@drawn
def trade_figure(tables: Sequence["ReadingTable"], chosen: "ReadingTable") -> Figure:
    """Bytes, and beneath it operations, against the worst error, both on logarithmic scales."""
    figure, (sizes, steps) = panels(HEIGHTS_IN)
    shown = [*tables, chosen]
    for panel, quantity in ((sizes, "bytes"), (steps, "operations")):
        _scale(panel, [table.error_k for table in shown])
        panel.set_yscale("log")
        for kind in KINDS:
            _draw(panel, [table for table in shown if table.kind == kind], quantity)
        panel.axvline(chosen.error_k, color=style.INK, linewidth=0.7, zorder=1)
        panel.plot(
            [chosen.error_k], [getattr(chosen, quantity)], marker="o", markersize=11,
            markerfacecolor="none", markeredgecolor=style.INK, markeredgewidth=1.4, zorder=5,
        )  # fmt: skip
        panel.margins(y=0.12)
        panel.yaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0), numticks=20))
        panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))
        panel.yaxis.set_minor_formatter(NullFormatter())
        _name_kinds(panel, shown, quantity)
    text = f"chosen: {chosen.bytes} bytes,\n{figures(chosen.error_k, 2)} K at worst"
    top = sizes.get_ylim()[1]
    note(sizes, text, (chosen.error_k, top), offset_pt=(5, -2), color=style.INK, va="top")
    name_axes(sizes, None, "constants in flash [bytes]")
    name_axes(steps, "worst error of the table over all healthy codes, rounding included [K]",
              "steps of arithmetic at worst [-]")  # fmt: skip
    return figure


def _scale(panel: Axes, errors_k: Sequence[float]) -> None:
    panel.set_xscale("log")
    panel.set_xlim(min(errors_k) / 1.3, max(errors_k) * 1.12)
    panel.xaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0), numticks=20))
    panel.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    panel.xaxis.set_minor_formatter(NullFormatter())


def _draw(panel: Axes, tables: Sequence["ReadingTable"], quantity: str) -> None:
    """One kind: its tables in order of their error."""
    if not tables:
        return
    ordered = sorted(tables, key=lambda table: table.error_k)
    stroke = STROKES[ordered[0].kind]
    panel.plot(
        [table.error_k for table in ordered],
        [getattr(table, quantity) for table in ordered],
        color=stroke.colour, linestyle=stroke.dash, linewidth=stroke.width_pt,
        marker=MARKS[ordered[0].kind], markersize=3.6, zorder=3,
    )  # fmt: skip


def _name_kinds(panel: Axes, tables: Sequence["ReadingTable"], quantity: str) -> None:
    """The name of each kind where its line ends: right of the panel, or beside a mark far left."""
    labels, ends_k = [], []
    for kind in KINDS:
        of_kind = [table for table in tables if table.kind == kind]
        if not of_kind:
            continue
        last = max(of_kind, key=lambda table: table.error_k)
        colour, height = STROKES[kind].colour, float(getattr(last, quantity))
        if share(panel, last.error_k) < FAR_LEFT:
            note(panel, kind, (last.error_k, height), offset_pt=(7, 0), va="center", color=colour)
        else:
            labels.append(Label(kind, height, colour))
            ends_k.append(last.error_k)
    name_lines(panel, labels, ends_k)
