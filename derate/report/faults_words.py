"""The fault matrix in words: the verdict, each cell, and whose task it is where limits fail."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from derate.lamp.limit import limit_words
from derate.limits.fault_kinds import MOMENTS
from derate.report.words import below_or_above, duration, number, percent, signed

if TYPE_CHECKING:
    from derate.limits.fault_cells import Cell
    from derate.limits.fault_matrix import FaultStudy, Row
    from derate.study.spread_units import Place

RESTS = (
    "A search, not a bound: these moments, and from the fault on the hottest and stillest air of "
    "the file with everything asked for at full."
)
"""What the matrix rests on."""


AT_ONCE_S = 0.05
"""What is seen sooner is seen at once."""


def place_words(place: "Place") -> str:
    """A place with a limit as a sentence calls it."""
    return f"junction of {place.name}" if place.junction else limit_words(place.name)


def verdict(study: "FaultStudy") -> str:
    """Whether every limit held where thermal control ought to hold it, and where it did not."""
    failed = [row for row in study.rows if row.unsaved()]
    beyond = [told for row in study.rows if (told := _beyond(row))]
    rest = f" Beyond any thermal control: {_listed(beyond)}." if beyond else ""
    if not failed:
        return f"Held: wherever thermal control ought to, it holds every limit.{rest}"
    told = _listed([f"{row.fault.name} ({', '.join(row.unsaved())})" for row in failed])
    return f"Exceeded where thermal control ought to hold: {told}.{rest}"


def _beyond(row: "Row") -> str:
    """A fault that thermal control cannot save, and at which moments if not at all of them."""
    moments = [moment for moment in row.failed() if not row.fault.ought(moment)]
    if not moments:
        return ""
    return (
        row.fault.name
        if len(moments) == len(MOMENTS)
        else f"{row.fault.name} ({', '.join(moments)})"
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def seen_words(cell: "Cell") -> str:
    """How soon a flag was raised, and whether it stayed."""
    if cell.seen_s is None:
        return "not seen"
    soon = "at once" if cell.seen_s < AT_ONCE_S else f"in {duration(cell.seen_s)}"
    return f"seen {soon}" + (", let go" if cell.let_go else "")


def outcome_words(cell: "Cell") -> str:
    """The place nearest to its limit, or farthest above it; how far above in brackets."""
    return f"{cell.place.name} {number(cell.peak_c)} degC ({signed(-cell.margin_k)} K)"


def cell_words(cell: "Cell") -> str:
    """All that a cell tells, in a sentence."""
    flag = f" ({cell.flag})" if cell.flag else ""
    told = (
        f"{seen_words(cell)}{flag}; driven at {percent(cell.duty)} then; hottest junction "
        f"{number(cell.junction_c)} degC; {place_words(cell.place)} {number(cell.peak_c)} degC, "
        f"{below_or_above(cell.margin_k)}"
    )
    return f"{told}; {saved_words(cell)}" if cell.saved else told


def saved_words(cell: "Cell") -> str:
    """What the cut-outs would have made of it."""
    saved = cell.saved
    if saved is None:
        return ""
    place = f"{place_words(saved.place)} {number(saved.peak_c)} degC"
    if saved.opened_s is None:
        return f"no cut-out opens: {place}, {below_or_above(saved.margin_k)}"
    after = duration(saved.opened_s)
    return f"a cut-out opens after {after}: {place}, {below_or_above(saved.margin_k)}"


def why_words(row: "Row", study: "FaultStudy") -> str:
    """Of a fault that passed a limit: whose task it is, and what the cut-out would do."""
    worst = min(row.cells, key=lambda cell: cell.margin_k)
    when = "always" if len(row.failed()) == len(MOMENTS) else ", ".join(row.failed())
    told = (
        f"{when}: {place_words(worst.place)} up to {number(worst.peak_c)} degC, "
        f"{below_or_above(worst.margin_k)}"
    )
    whose = (
        "thermal control ought to hold it" if row.unsaved() else "thermal control cannot save it"
    )
    why = f" ({row.fault.why})" if row.fault.why else ""
    saved = [cell.saved for cell in row.cells if cell.saved is not None]
    if not saved:
        return f"{told}; {whose}{why}; this lamp has no cut-out that could"
    least = min(saved, key=lambda one: one.margin_k)
    with_it = (
        f"{place_words(least.place)} at most {number(least.peak_c)} degC, "
        f"{below_or_above(least.margin_k)}"
    )
    word = "holds all limits" if least.margin_k >= 0 else "does not hold all limits"
    if all(one.opened_s is None for one in saved):
        word = "does not open"
    elif least.margin_k < 0 and all(one.junctions_hold for one in saved):
        word = "holds those of all junctions, but not all limits"
    return f"{told}; {whose}{why}; the cut-out {word}: {with_it}"
