"""A cut-out on the axis of its own temperature: service, its trip band, what is enough alone."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report import style
from derate.report.faults_beside import cutout_facts
from derate.report.point_panel import beside, stacked
from derate.report.sheet import drawn, name_axis
from derate.report.words import number, typeset

if TYPE_CHECKING:
    from derate.limits.fault_matrix import FaultStudy

BAR_IN = 0.36
BAR = 0.5
LEFT_IN, RIGHT_IN = 2.1, 0.5
ROOM_K = 4.0
SERVICE, TRIP, ALONE, JUNCTIONS = style.PALETTE[0], style.PALETTE[1], "#2a9268", "#9cc7b4"


@drawn
def trip_figure(study: "FaultStudy") -> Figure:
    """Bars of one cut-out: what its element sees in service, where it opens, what is enough."""
    bars = _bars(study)
    figure, (panel,) = stacked([BAR_IN * len(bars)], left_in=LEFT_IN, right_in=RIGHT_IN)
    ends = [end_c for _, low_c, high_c, _ in bars for end_c in (low_c, high_c)]
    panel.set_xlim(min(ends) - ROOM_K, max(ends) + ROOM_K)
    panel.set_ylim(len(bars) - 0.5, -0.5)
    panel.set_yticks([])
    panel.grid(visible=False, axis="y")
    panel.grid(visible=True, axis="x", color=style.GRID, linewidth=0.8)
    for row, (words, low_c, high_c, colour) in enumerate(bars):
        panel.barh(row, high_c - low_c, left=low_c, height=BAR, color=colour, linewidth=0, zorder=2)
        beside(panel, words, row, -LEFT_IN + 0.1, color=style.INK)
        panel.annotate(
            typeset(number(high_c)), (high_c, row), xytext=(4, 0), textcoords="offset points",
            va="center", color=style.INK, fontweight="bold", annotation_clip=False,
        )  # fmt: skip
    (name,) = study.lamp.cutouts
    name_axis(panel, f"cut-out {name}: temperature of its element, and of its trip [degC]")
    panel.set_xlabel(typeset("temperature [degC]"), color=style.SOFT, labelpad=2)
    return figure


def _bars(study: "FaultStudy") -> list[tuple[str, float, float, str]]:
    """Words, both ends [degC] and colour of each bar, top to bottom."""
    cutouts = study.cutouts
    if cutouts is None or cutouts.window is None:
        return []
    (cutout,) = study.lamp.cutouts.values()
    (service,) = cutouts.service
    coldest_c, window = study.around.coldest_c, cutouts.window
    found = [
        ("in service, corners too", coldest_c, service.peak_c, SERVICE),
        ("opens, its tolerance", cutout.least_trip_c, cutout.most_trip_c, TRIP),
    ]
    for words, up_to_c, colour in (
        ("a trip enough for all limits", window.all_c, ALONE),
        ("enough for the junctions", window.junctions_c, JUNCTIONS),
    ):
        if up_to_c is not None:
            most_c = up_to_c + cutout.tolerance_k
            found.append((words, coldest_c, max(most_c, coldest_c), colour))
    return found


def trip_alt(study: "FaultStudy") -> str:
    """The bars in words."""
    return "; ".join(f"{topic}: {told}" for topic, told in cutout_facts(study))
