"""The error of a reading table at every healthy code, between the bounds that it states."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter
from numpy.typing import NDArray

from derate.report import style
from derate.report.envelope import envelope
from derate.report.sheet import Label, drawn
from derate.report.table_panel import name_axes, name_lines, panels, raised, wash_faults
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.sensing.circuit import Circuit
    from derate.sensing.tables import ReadingTable

HEIGHT_IN = 2.3
CORNER_HEIGHT = 0.045
"""Height of the ticks at corners, as a share of the panel."""
ABOVE_IN = 0.2
"""Room for the temperatures between the panel and its name."""
ROUND_C = (-50, -40, -20, 0, 25, 50, 75, 100, 125, 150, 175, 200)
LEAST_APART = 0.075
"""Share of the axis between two temperatures, so that their figures do not touch."""


@drawn
def error_figure(table: "ReadingTable", circuit: "Circuit", range_c: tuple[float, ...]) -> Figure:
    """Reading minus the ideal chain, in millikelvin against the code, temperatures on top."""
    codes, error_k = errors(table, circuit, range_c)
    figure, (panel,) = panels((HEIGHT_IN,), above_in=ABOVE_IN)
    panel.set_xlim(0, circuit.transfer.full_scale - 1)
    bound = 1000.0 * table.error_k
    panel.set_ylim(-1.25 * bound, 1.25 * bound)
    panel.axhline(0.0, color=style.PALE, linewidth=0.8)
    rows = envelope(error_k, 900)
    panel.plot(codes[rows], 1000.0 * error_k[rows], color=style.PALETTE[0], linewidth=0.7)
    for sign in (-1.0, 1.0):
        panel.axhline(
            sign * bound, color=style.LIMIT.colour, linestyle=style.LIMIT.dash, linewidth=1.0
        )
    _mark_knots(panel, table)
    wash_faults(panel, table.window.low_code, table.window.high_code)
    _mark_temperatures(panel, circuit, range_c)
    name_lines(panel, [
        Label(f"bound {bound:.3g} mK", bound, style.INK),
        Label("each code", float(1000.0 * error_k[-1]), style.PALETTE[0]),
        Label("fault window", -1.2 * bound, style.WARNING),
    ])  # fmt: skip
    name_axes(panel, "code [LSB]; ticks inside: corners of the table", "reading error [mK]")
    panel.yaxis.set_label_coords(*raised(panel, ABOVE_IN))
    return figure


def errors(
    table: "ReadingTable", circuit: "Circuit", range_c: tuple[float, ...]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The codes of the working range, and the error [K] of the reading at each."""
    from derate.sensing.circuit import ideal_lsb
    from derate.sensing.lookup import ideal_reading_c
    from derate.sensing.tables import readings

    ends = [int(ideal_lsb(circuit, celsius)) for celsius in range_c]
    codes = np.arange(min(ends), max(ends) + 1)
    read_c = np.asarray(readings(table, codes), float) / table.scale
    return codes, read_c - ideal_reading_c(circuit, codes)


def _mark_knots(panel: Axes, table: "ReadingTable") -> None:
    """Short ticks inside the foot of the panel where segments meet."""
    if table.kind == "direct":
        return
    left, right = panel.get_xlim()
    knots = corners(table)
    knots = knots[(left <= knots) & (knots <= right)]
    panel.vlines(
        knots, 0.0, CORNER_HEIGHT, transform=panel.get_xaxis_transform(), color=style.INK,
        linewidth=1.0, zorder=4,
    )  # fmt: skip


def corners(table: "ReadingTable") -> NDArray[np.float64]:
    """Where segments meet [LSB]; those of temperature steps are kept at 16 bits."""
    if len(table.codes):
        finer = table.shift if table.kind == "temperature steps" else 0
        return np.asarray(table.codes, np.float64) / (1 << finer)
    steps: NDArray[np.float64] = np.arange(len(table.values), dtype=np.float64)
    return table.first_code + steps * (1 << table.shift)


def _mark_temperatures(panel: Axes, circuit: "Circuit", range_c: tuple[float, ...]) -> None:
    """Round temperatures on top, where their codes lie."""
    from derate.sensing.circuit import ideal_lsb

    full = circuit.transfer.full_scale
    places: dict[float, float] = {}
    for celsius in ROUND_C:
        if not range_c[0] <= celsius <= range_c[1]:
            continue
        code = float(ideal_lsb(circuit, celsius))
        if all(abs(code - other) >= LEAST_APART * full for other in places):
            places[code] = celsius
    top = panel.twiny()
    top.set_xlim(panel.get_xlim())
    top.xaxis.set_major_locator(FixedLocator(sorted(places)))
    top.xaxis.set_major_formatter(
        FuncFormatter(lambda code, _: typeset(f"{places.get(code, 0.0):.0f} degC"))
    )
    top.tick_params(colors=style.SOFT, labelsize=style.SMALL_PT, length=3, pad=1)
    for spine in top.spines.values():
        spine.set_visible(False)
