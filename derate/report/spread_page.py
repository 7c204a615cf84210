"""Part tolerances as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate import __version__
from derate.report import spread_words as words_of
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered
from derate.report.spread_figures import kinds_of
from derate.report.spread_terminal import HEADS
from derate.report.words import number
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.study.spread import Spread

NOT_MODELLED = (
    "what the lamp file does not say: a tolerance that is not in it, a law that is not its own, "
    "parts that go together and are drawn apart",
    "what sorting at the end of the line takes out, and what ageing adds",
    "units that are broken: a joint that failed is an event of a profile, no tolerance",
    "every other profile and request: this is the one that was run",
    "what a single run does not contain either, as its report lists",
)
WORDS = {"held": "held", "exceeded": "exceeded"}
"""The verdict in the title of the window."""
PROVENANCE = (
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("profile", "profile"),
    ("units", "units"),
    ("seed", "seed"),
    ("command", "command"),
)


def page(study: "Spread", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("spread.html.j2", _content(study, drawings))


def _content(study: "Spread", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    return {
        "study": study,
        "title": words_of.title_words(study),
        "verdict": words_of.verdict(study),
        "verdict_class": words_of.standing(study),
        "verdict_word": WORDS[words_of.standing(study)],
        "heads": HEADS,
        "rows": words_of.rows_of(study),
        "facts": _facts(study),
        "worst": _worst(study),
        "tolerances": _tolerances(study),
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(study)],
        "not_modelled": NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            ("derate", __version__),
            *((label, study.source[key]) for key, label in PROVENANCE if key in study.source),
        ],
    }


def _facts(study: "Spread") -> list[tuple[str, str]]:
    found = [
        ("What the units show", words_of.chance_words(study.over)),
        ("Guard band", words_of.near_words(study)),
    ]
    if study.tripped is not None:
        found.append(("Cut-out", words_of.tripped_words(study)))
    if (bound := cited(study.lamp)) is not None:
        found.append(("Bound", bound))
    if study.drawn:
        for label, subject in (
            ("Least margin depends on", "margin"),
            ("Light of what was asked on", "share"),
            ("Light in lm h on", "light"),
        ):
            told = words_of.importance_words(study.importances[subject], subject)
            found.append((label, told))
    return found


def _worst(study: "Spread") -> list[tuple[str, ...]]:
    """Number, peaks, margin and light of the worst units, and how to run each again."""
    rows = []
    seed = f" --seed {study.seed}" if study.seed else ""
    for unit in study.worst:
        row = study.figures.units.tolist().index(unit)
        peaks = (number(peak_c) for peak_c in study.figures.peak_c[row])
        margin_k, share = study.figures.margin_k[row], study.figures.share[row]
        again = f"derate run {words_of.file_of(study, unit)}{seed}" if study.lamp.keys else ""
        rows.append((str(unit), *peaks, number(margin_k), number(100 * share), again))
    return rows


def _tolerances(study: "Spread") -> list[tuple[str, str, str, str]]:
    """What varied: name, law, the keys it moves, its group."""
    rows = []
    for one in study.drawn:
        keys = list(dict.fromkeys(key.key.rstrip("0123456789").rstrip(".") for key in one.keys))
        first = one.keys[0]
        law = (
            f"{one.distribution}, {first.low:.4g} to {first.high:.4g} (nominal {first.nominal:.4g})"
        )
        group = f"{one.group}, correlation {one.correlation:g}" if one.group else ""
        rows.append((one.name, law, ", ".join(keys), group))
    return rows
