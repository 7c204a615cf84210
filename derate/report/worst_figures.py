"""Every figure of a bound, with the words that belong to it."""

from typing import TYPE_CHECKING

from derate.report.kind import Kind
from derate.report.worst_history import history_figure
from derate.report.worst_places import places_figure
from derate.report.worst_words import burst_words, gap_words, thing, verdict

if TYPE_CHECKING:
    from derate.limits.worst.study import Worst


def _history_alt(study: "Worst") -> str:
    return "; ".join(
        f"{thing(place.name)}: {burst_words(place.replay, place)}"
        for place in study.units[0].places
        if place.replay is not None
    )


PLACES: Kind["Worst"] = Kind(
    "places",
    "How hot every place can get",
    places_figure,
    lambda study: f"Bounds against limits. {verdict(study)}",
    "The bar ends at the bound: no history of requests gets a place hotter. The upright stroke is "
    "the limit, the ring the hottest history that was found, the diamond what full light for ever "
    "would make of it without control.",
)
HISTORY: Kind["Worst"] = Kind(
    "history",
    "The histories that come near",
    history_figure,
    lambda study: f"{_history_alt(study)}. {gap_words(study.units[0])}",
    "What steady thinking promises is the dotted line: full light until nothing changes. The "
    "history above it is worse, because it lets the thermistor cool before it asks for light; what "
    "it makes of the place is a real run with the real firmware. Between its ring and the bound "
    "lies what nobody knows.",
)


def kinds_of(study: "Worst") -> tuple[Kind["Worst"], ...]:
    """The figures there is something to show in."""
    return (PLACES, HISTORY)
