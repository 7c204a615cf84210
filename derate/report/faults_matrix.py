"""The fault matrix as a picture: a row a fault, a column a moment, a colour for what came of it."""

from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from derate.limits.fault_kinds import MOMENTS
from derate.report import style
from derate.report.faults_words import outcome_words, seen_words
from derate.report.point_panel import beside, stacked
from derate.report.point_words import cut
from derate.report.sheet import drawn
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.limits.fault_cells import Cell
    from derate.limits.fault_matrix import FaultStudy, Row

ROW_IN = 0.47
LEFT_IN, RIGHT_IN = 1.78, 0.1
TOP_IN, BOTTOM_IN = 0.42, 0.42
MOST_SIGNS = 27
EDGE = 0.03
"""White between two cells, as a share of a cell."""

GOOD, SAVED, PASSED, BEYOND = "#dcefe3", "#f4e1b5", "#e9b9b4", "#f6e6e4"
LEGEND = (
    (GOOD, "every limit held"),
    (SAVED, "the cut-out holds it"),
    (BEYOND, "passed, beyond control"),
    (PASSED, "passed, control ought to hold"),
)


@drawn
def matrix_figure(study: "FaultStudy") -> Figure:
    """A cell for every fault at every moment: seen when, driven how, how far from its limit."""
    rows = study.rows
    figure, (panel,) = stacked(
        [ROW_IN * len(rows)], left_in=LEFT_IN, right_in=RIGHT_IN, top_in=TOP_IN, bottom_in=BOTTOM_IN
    )
    panel.set_xlim(0.0, len(MOMENTS))
    panel.set_ylim(len(rows), 0.0)
    panel.grid(visible=False)
    panel.set_xticks([])
    panel.set_yticks([])
    panel.spines["bottom"].set_visible(False)
    for column, moment in enumerate(MOMENTS):
        panel.annotate(
            moment, (column + 0.5, 0.0), xytext=(0, 6), textcoords="offset points", ha="center",
            color=style.INK, annotation_clip=False,
        )  # fmt: skip
    for number, row in enumerate(rows):
        name = cut(row.fault.name, MOST_SIGNS)
        beside(panel, name, number + 0.5, -LEFT_IN + 0.1, color=style.INK)
        for column, cell in enumerate(row.cells):
            _draw(panel, row, cell, column, number)
    _explain(panel, len(rows))
    return figure


def _draw(panel: Axes, row: "Row", cell: "Cell", column: int, number: int) -> None:
    panel.add_patch(
        Rectangle(
            (column + EDGE, number + EDGE), 1.0 - 2 * EDGE, 1.0 - 2 * EDGE,
            facecolor=colour_of(row, cell, column), edgecolor="none",
        )
    )  # fmt: skip
    bold = "normal" if cell.held else "bold"
    for height, words, weight in (
        (0.3, outcome_words(cell), bold),
        (0.7, f"{seen_words(cell)}; drive {100 * cell.duty:.0f} %", "normal"),
    ):
        panel.text(
            column + 0.5, number + height, typeset(words), ha="center", va="center",
            fontsize=style.SMALL_PT - 1.0, fontweight=weight, color=style.INK,
        )  # fmt: skip


def colour_of(row: "Row", cell: "Cell", column: int) -> str:
    """The colour of a cell by what came of it."""
    if cell.held:
        return GOOD
    if cell.saved is not None and cell.saved.margin_k >= 0.0:
        return SAVED
    return PASSED if row.fault.ought(MOMENTS[column]) else BEYOND


def _explain(panel: Axes, rows: int) -> None:
    """What the colours mean, below the cells."""
    for place, (colour, words) in enumerate(LEGEND):
        left = -0.5 + 1.13 * place
        panel.add_patch(
            Rectangle((left, rows + 0.3), 0.09, 0.36, facecolor=colour, edgecolor=style.PALE,
                      linewidth=0.6, clip_on=False)
        )  # fmt: skip
        panel.text(
            left + 0.13, rows + 0.48, words, va="center", fontsize=style.SMALL_PT, color=style.SOFT
        )


def matrix_alt(study: "FaultStudy") -> str:
    """The matrix in words."""
    told = (
        f"{row.fault.name}: "
        + ", ".join(f"{m} {outcome_words(c)}" for m, c in zip(MOMENTS, row.cells, strict=True))
        for row in study.rows
    )
    return "Fault matrix. " + "; ".join(told)
