"""The tuning as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate.report import tune_words as words
from derate.report.page import CAUTIONS
from derate.report.rendering import rendered
from derate.report.tune_figures import kinds_of

if TYPE_CHECKING:
    from derate.study.tune import Tuning

NOT_MODELLED = (
    "profiles other than those named above: settings are tuned for what they were run through",
    "units beyond the corners: they were found by search and are no bound",
    "adaptation of the eye and its surroundings: published thresholds are taken as they stand",
    "ageing of emitters, interfaces and thermistors; dirt, moisture and mounting in use",
)
PROVENANCE = (
    ("version", "derate"),
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("inputs_sha256", "SHA-256 of all inputs"),
    ("command", "command"),
)


def page(tuning: "Tuning", drawings: dict[str, str]) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("tune.html.j2", _content(tuning, drawings))


def _content(tuning: "Tuning", drawings: dict[str, str]) -> dict[str, Any]:
    """What the page shows."""
    seen = tuning.chosen.figures.seen if tuning.chosen else None
    facts = [
        ("Light", words.light_words(tuning)),
        ("Limits", words.limits_words(tuning)),
        ("What people see", words.seen_words(seen) if tuning.chosen else ""),
        ("Now seen", words.seen_words(tuning.present.seen)),
        ("Tried on", words.units_words(tuning)),
        (f"{tuning.drawn.units if tuning.drawn else 0} drawn units", words.drawn_words(tuning)),
        *((f"{name}, on the timeline", said) for name, said in words.checks_words(tuning)),
    ]
    return {
        "tuning": tuning,
        "verdict": words.verdict(tuning),
        "verdict_class": "held" if tuning.holds and tuning.enough else "exceeded",
        "reason": words.reason(tuning),
        "warnings": words.warnings(tuning),
        "rows": words.setting_rows(tuning),
        "facts": [(name, said) for name, said in facts if said],
        "trades": [
            ("Margin", words.trade_rows(tuning, tuning.margins)),
            ("Steps", words.trade_rows(tuning, tuning.steps)),
        ],
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(tuning)],
        "not_modelled": NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            *((label, tuning.source[key]) for key, label in PROVENANCE if tuning.source.get(key)),
            ("seed", tuning.wanted.seed),
            ("settings tried", f"{tuning.tried}, {tuning.runs} runs, {tuning.seconds:.0f} s"),
        ],
    }
