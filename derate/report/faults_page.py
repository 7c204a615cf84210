"""The fault matrix as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate import __version__
from derate.limits.fault_kinds import MOMENTS
from derate.report import faults_words as words_of
from derate.report.faults_beside import cutout_facts, early_facts
from derate.report.faults_figures import kinds_of
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered

if TYPE_CHECKING:
    from derate.limits.fault_matrix import FaultStudy

NOT_MODELLED = (
    "faults that are not in the table, and two at once",
    "what the driver does beyond its duty: a short, an overvoltage, a current out of control",
    "the cut-out's own faults: contacts that weld, an element that has come loose",
    "other histories: these are the moments that were tried, and `derate spread` knows the units",
    "what a single run does not contain either, as its report lists",
)
PROVENANCE = (
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("seed", "seed"),
    ("command", "command"),
)


def page(study: "FaultStudy", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("faults.html.j2", _content(study, drawings))


def _content(study: "FaultStudy", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    held = study.held
    return {
        "study": study,
        "verdict": words_of.verdict(study),
        "verdict_class": "held" if held else "exceeded",
        "rests": words_of.RESTS,
        "moments": MOMENTS,
        "rows": [
            (row.fault.name, [(words_of.cell_words(cell), not cell.held) for cell in row.cells])
            for row in study.rows
        ],
        "failed": [
            (row.fault.name, words_of.why_words(row, study)) for row in study.rows if row.failed()
        ],
        "cutouts": cutout_facts(study),
        "early": early_facts(study),
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(study)],
        "not_modelled": NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            ("derate", __version__),
            *((label, study.source[key]) for key, label in PROVENANCE if key in study.source),
        ],
    }
