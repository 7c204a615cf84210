"""The reading study as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate import __version__
from derate.firmware.table_c import file_names
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered
from derate.report.table_figures import KINDS
from derate.report.table_words import alternatives, hint, rows, verdict
from derate.sensing.description import (
    chain_words,
    fit_words,
    ohm_words,
    situation_words,
    table_words,
    threshold_words,
    window_words,
)

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy

MOST_CAUSES = 4
MOST_RESISTORS = 6
PROVENANCE = (
    ("lamp", "lamp"),
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("command", "command"),
)


def page(study: "ReadingStudy", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("table.html.j2", _content(study, drawings))


def _content(study: "ReadingStudy", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    opened, shorted = window_words(study.table.window)
    usable = [one for one in study.candidates if one.refused is None]
    present = [one for one in study.candidates if one.present]
    shown = [
        *usable[:MOST_RESISTORS],
        *(one for one in present if one not in usable[:MOST_RESISTORS]),
    ]
    return {
        "ohm": ohm_words,
        "fit": fit_words(study.sensor),
        "study": study,
        "title": study.source.get("lamp", "A sensor on its own"),
        "verdict": verdict(study),
        "chain": chain_words(study.sensor, study.circuit),
        "table": table_words(study.table),
        "others": alternatives(study),
        "open": opened,
        "short": shorted,
        "hint": hint(study),
        "threshold": None if study.threshold is None else threshold_words(study.threshold),
        "situation": situation_words(study.situation),
        "rows": rows(study),
        "most_causes": MOST_CAUSES,
        "resistors": shown,
        "contributions": [part for part in study.budget.contributions if part.counts],
        "figures": [(kind, Markup(drawings[kind.name])) for kind in KINDS],
        "files": file_names(study.name),
        "cautions": CAUTIONS,
        "provenance": [
            ("derate", __version__),
            *((label, study.source[key]) for key, label in PROVENANCE if key in study.source),
            ("options", study.wanted.words()),
        ],
    }
