"""The report as one self-contained page: no script, no network, readable printed."""

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from derate.report.board_words import board_sentence
from derate.report.colour_words import colour_of, colour_sentence
from derate.report.cutout_words import cutout_sentence
from derate.report.events import in_order
from derate.report.figures import kinds_of
from derate.report.possible_words import possible_sentence
from derate.report.rendering import rendered
from derate.report.sharing import sharing_sentence
from derate.report.throttling import control_sentence, fault_sentence, hunting_sentence
from derate.report.verdict import by_margin, junctions, limited_nodes, verdict, verdict_class
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.possible import Possible

NOT_MODELLED = (
    "what varies from unit to unit: this is one lamp with the nominal values of its file",
    "light, losses and readings within one PWM period: they are averaged over it, only the "
    "junctions' peaks count its ripple",
    "temperature differences inside a die, and between emitters that share a solder point",
    "conduction that changes with temperature: links and boards are constant, except where the "
    "profile changes airflow or an interface; what surfaces shed follows temperature and air",
    "ageing of emitters, interfaces and thermistors; dirt, moisture and mounting in use",
    "the driver's own dynamics: current is there at once",
    "glare and how light is spread; colour only as the mix of channels whose colours are known",
)

CAUTIONS = (
    "Intense light can injure eyes. High-power sources need a photobiological assessment.",
    "Metal-core boards, heat sinks and housings reach temperatures that burn.",
    "A limit in firmware is no substitute for an independent hardware cut-out where failure can "
    "hurt.",
    "Measure before trusting: this page tells what a model does, not what a built lamp does.",
    "Local codes and licensed practice decide.",
)

WORDS = {
    "held": "held",
    "hunts": "held, but hunts",
    "cut": "cut short",
    "exceeded": "exceeded",
}
"""The verdict in the title of the window."""

PROVENANCE = (
    ("version", "derate"),
    ("lamp_file", "lamp file"),
    ("lamp_sha256", "its SHA-256"),
    ("inputs_sha256", "SHA-256 of all inputs"),
    ("profile", "profile"),
    ("profile_file", "profile file"),
    ("body", "controller body"),
    ("seed", "seed"),
    ("command", "command"),
)


def page(result: "Result", drawings: dict[str, str], possible: "Possible | None" = None) -> str:
    """The whole page as HTML; ``drawings``: figure name -> SVG made to stand inside a page."""
    return rendered("page.html.j2", _content(result, drawings, possible))


def _content(
    result: "Result", drawings: dict[str, str], possible: "Possible | None"
) -> dict[str, Any]:
    """What the page shows."""
    colour = colour_of(result)
    return {
        "result": result,
        "possible": possible_sentence(result, possible) if possible else None,
        "bound": cited(result.lamp),
        "colour": None if colour is None else colour_sentence(colour),
        "merit": result.merit,
        "happenings": in_order(result.happenings),
        "verdict": verdict(result),
        "verdict_class": verdict_class(result),
        "verdict_word": WORDS[verdict_class(result)],
        "closest": by_margin(result)[0],
        "hottest": max(junctions(result), key=lambda junction: junction.peak_c),
        "nodes": limited_nodes(result),
        "junctions": junctions(result),
        "span_s": float(result.trace["time_s"][-1]),
        "sharing": sharing_sentence(result.lamp),
        "control": control_sentence(result),
        "hunting": hunting_sentence(result),
        "faults": fault_sentence(result),
        "cutouts": [(name, cutout_sentence(one)) for name, one in result.merit.cutouts.items()],
        "board": None if result.talk is None else board_sentence(result.talk),
        "inputs": [
            (name, text)
            for name, text in (
                ("The lamp file", result.lamp.text),
                ("The profile file", result.profile.text),
            )
            if text
        ],
        "figures": [(kind, Markup(drawings[kind.name])) for kind in kinds_of(result, possible)],
        "not_modelled": NOT_MODELLED,
        "cautions": CAUTIONS,
        "provenance": [
            (label, result.provenance[key])
            for key, label in PROVENANCE
            if result.provenance.get(key) is not None
        ],
    }
