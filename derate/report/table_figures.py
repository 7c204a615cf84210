"""Every figure of a reading study, with the words that belong to it."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from derate.report.kind import Kind
from derate.report.table_budget import budget_figure
from derate.report.table_error import error_figure
from derate.report.table_resolution import resolution_figure
from derate.report.table_trade import trade_figure
from derate.report.table_words import hint, verdict
from derate.report.words import figures
from derate.sensing.description import table_words

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy


def _budget(study: "ReadingStudy") -> Figure:
    at_c = study.threshold.celsius if study.threshold is not None else None
    return budget_figure(study.budget, study.confirmed, at_c)


KINDS: tuple[Kind["ReadingStudy"], ...] = (
    Kind(
        "budget",
        "Where the reading error comes from",
        _budget,
        lambda study: f"Contributions to the reading error by temperature. {verdict(study)}",
        "Above: each cause at its limits, the largest nearest to zero; its height is what it can "
        "add. Below: all of them at their worst added up, the worst unit that their limits allow, "
        "their root sum square about the mean, and in grey what 99.7 % of drawn units read. The "
        "root sum square is an estimate, not a bound. At both ends of the working range the table "
        "holds its last value, it is saturated; what goes through it is drawn up to there.",
    ),
    Kind(
        "resolution",
        "What one code is worth",
        lambda study: resolution_figure(study.sensor, study.candidates, study.interest_c),
        lambda study: f"Kelvin per code against temperature for several resistors. {hint(study)}",
        "Low is good. The thick line is the lamp as it is, the others are the best resistor and "
        "the extremes that can be used: that is what a wrong choice costs. A cross ends a line "
        "where its fault window would take a healthy thermistor for a broken one.",
    ),
    Kind(
        "trade",
        "What a smaller table error costs",
        lambda study: trade_figure(study.tables, study.table),
        lambda study: f"Bytes and steps of arithmetic by table error. {table_words(study.table)}",
        "Each mark is a table that was made and checked at every code. The ring is the chosen "
        "one: what lies under it on the thin line is smaller, or quicker, for the same error.",
    ),
    Kind(
        "error",
        "The table's own error, at every code",
        lambda study: error_figure(study.table, study.circuit, study.range_c),
        lambda study: (
            f"Reading minus ideal chain over the codes of the working range; at most "
            f"{figures(study.table.error_k, 2)} K"
        ),
        "Segments that all swing from bound to bound waste nothing. On a red ground the code is "
        "a fault and no reading.",
    ),
)
"""In the order of the page."""
