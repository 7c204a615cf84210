"""A search for a counterexample as one self-contained page: no script, no network."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate import __version__
from derate.report import challenge_words as words_of
from derate.report.challenge_terminal import HEADS, facts_of, rows_of
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered

if TYPE_CHECKING:
    from derate.limits.challenge import Challenge
    from derate.loop.run import Result
    from derate.report.kind import Kind

PROVENANCE = (
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("effort", "effort"),
    ("seed", "seed"),
    ("command", "command"),
)


def page(
    study: "Challenge", kinds: "Iterable[Kind[Result]]", drawings: dict[str, str], again: str
) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("challenge.html.j2", _content(study, kinds, drawings, again))


def _content(
    study: "Challenge", kinds: "Iterable[Kind[Result]]", drawings: dict[str, str], again: str
) -> dict[str, Any]:
    return {
        "study": study,
        "verdict": words_of.verdict(study),
        "standing": "held" if study.holds else "exceeded",
        "word": "no counterexample found" if study.holds else "counterexample",
        "told": words_of.told(study),
        "again": again,
        "heads": HEADS,
        "rows": rows_of(study),
        "facts": list(facts_of(study)),
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds],
        "not_said": words_of.rests_on(study),
        "cautions": CAUTIONS,
        "provenance": [
            ("derate", __version__),
            *((label, study.source[key]) for key, label in PROVENANCE if key in study.source),
        ],
    }
