"""A bound as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate.report import worst_words as words
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered
from derate.report.words import number
from derate.report.worst_figures import kinds_of
from derate.report.worst_terminal import facts_of

if TYPE_CHECKING:
    from derate.limits.worst.study import Worst

PROVENANCE = (
    ("version", "derate"),
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("command", "command"),
)


def page(study: "Worst", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("worst.html.j2", _content(study, drawings))


def _content(study: "Worst", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    return {
        "study": study,
        "verdict": words.verdict(study),
        "verdict_class": "held" if study.holds else "exceeded",
        "span": words.span_words(study.span),
        "rests": words.RESTS,
        "units": [
            (
                unit.name,
                words.moved_words(unit),
                [
                    (
                        words.thing(place.name),
                        number(place.open_c),
                        number(place.bound_c),
                        "" if place.replay is None else number(place.replay.peak_c),
                        number(place.limit_c),
                        number(place.margin_k),
                        place.margin_k < 0.0,
                    )
                    for place in unit.places
                ],
            )
            for unit in study.units
        ],
        "facts": facts_of(study)[:-1],
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(study)],
        "not_modelled": words.NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            (label, study.source[key]) for key, label in PROVENANCE if study.source.get(key)
        ],
    }
