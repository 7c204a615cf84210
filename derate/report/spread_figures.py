"""Every figure of part tolerances, with the words that belong to it."""

from typing import TYPE_CHECKING

from derate.report.kind import Kind
from derate.report.spread_bars import importance_alt, importance_figure
from derate.report.spread_histogram import histogram_alt, histogram_figure
from derate.report.spread_scatter import axis_of, scatter_figure
from derate.report.spread_words import importance_words, verdict

if TYPE_CHECKING:
    from derate.study.spread import Spread

KINDS: tuple[Kind["Spread"], ...] = (
    Kind(
        "histogram",
        "How hot the units get",
        histogram_figure,
        histogram_alt,
        "Each unit counts once, with the highest temperature of its whole run. The dashed line is "
        "the limit, the tinted band below it the guard band; red units are over.",
    ),
    Kind(
        "importance",
        "Which tolerance matters most",
        importance_figure,
        importance_alt,
        "Dark is the share of the variance that a tolerance brings by itself, pale what it adds "
        "together with others, the thin line how sure the dark one is (95 %). Tighten the longest "
        "bar first; the short ones may be cheap parts. At the right what one standard deviation "
        "more of it does.",
    ),
    Kind(
        "scatter",
        "Margin against the tolerance that matters most",
        scatter_figure,
        lambda study: (
            f"Least margin of each unit. {verdict(study)} "
            f"{importance_words(study.importances['margin'], 'margin')}"
        ),
        "A point a unit, at most 1500 of them. The lines are quantiles of all units; how far they "
        "lie apart is what the other tolerances do. Rings are the worst units.",
    ),
)
"""In the order of the page."""


def kinds_of(study: "Spread") -> tuple[Kind["Spread"], ...]:
    """The figures that there is something to show in."""
    there = {
        "importance": any(study.importances.values()),
        "scatter": axis_of(study) is not None,
    }
    return tuple(kind for kind in KINDS if there.get(kind.name, True))
