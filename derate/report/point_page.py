"""The operating point as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate import __version__
from derate.report import point_colour
from derate.report import point_sentences as sentences
from derate.report import point_words as words_of
from derate.report.page import CAUTIONS
from derate.report.point_comparison import comparison_rows, cost_words, names_of_sides
from derate.report.point_figures import kinds_of
from derate.report.point_surfaces import surface_notes, surface_row
from derate.report.rendering import rendered

if TYPE_CHECKING:
    from derate.study.point import PointStudy

NOT_MODELLED = (
    "what varies from unit to unit: this is one lamp with the nominal values of its file",
    "time: the lamp is at rest, everything has warmed through; a run through a profile shows what "
    "happens before",
    "what convection formulas do not know: sharp edges, neighbours, the inside of a housing; where "
    "they are used outside their range a warning says so",
    "temperature differences inside a die",
    "ageing of emitters, interfaces and thermistors; dirt, moisture and mounting in use",
    "glare and how light is spread; colour only as the mix of channels whose colours are known",
)
WORDS = {"held": "holds", "exceeded": "too hot"}
"""The verdict in the title of the window."""
PROVENANCE = (
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("against", "held against"),
    ("against_sha256", "its SHA-256"),
    ("command", "command"),
)


def page(study: "PointStudy", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("point.html.j2", _content(study, drawings))


def _content(study: "PointStudy", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    comparison = study.comparison
    return {
        "study": study,
        "say": sentences,
        "word": words_of,
        "verdict": words_of.verdict(study),
        "verdict_class": words_of.standing(study),
        "verdict_word": WORDS[words_of.standing(study)],
        "at_c": {one.name: one.temperature_c for one in study.nodes},
        "places": sentences.places_words(study),
        "surfaces": [surface_row(one) for one in study.surfaces],
        "colour": study.colour and point_colour.colour_words(study.colour),
        "colours": point_colour.colour_rows(study.colour) if study.colour else [],
        "shared": point_colour.shared_rows(study),
        "surface_notes": surface_notes(study),
        "comparison": comparison_rows(comparison) if comparison else [],
        "sides": names_of_sides(study) if comparison else (),
        "cost": cost_words(study.cost) if study.cost else "",
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(study)],
        "not_modelled": NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            ("derate", __version__),
            *((label, study.source[key]) for key, label in PROVENANCE if key in study.source),
        ],
    }
