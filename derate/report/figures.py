"""Every figure of a report, with the words that belong to it, and how it becomes SVG and PNG."""

import io
import math
import re
from collections.abc import Callable, Generator, Iterable
from typing import TYPE_CHECKING

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from derate.report import style
from derate.report.colour import colour_kind
from derate.report.colour_words import colour_of
from derate.report.drive import drive_figure
from derate.report.junctions import junction_figure
from derate.report.kind import Kind, Subject
from derate.report.light import light_figure
from derate.report.nodes import node_figure
from derate.report.overview import overview_figure
from derate.report.possible import possible_kind
from derate.report.sensing import sensing_figure
from derate.report.sheet import drawing
from derate.report.verdict import junctions, limited_nodes, verdict
from derate.report.words import below_or_above, duration, encoded, number, percent, typeset

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.possible import Possible

FONTS = "'DejaVu Sans', Verdana, Arial, sans-serif"

LEFT = 'preserveAspectRatio="xMinYMin"'


def _overview_alt(result: "Result") -> str:
    return f"Temperatures, drive and light over the whole run. {verdict(result)}"


def _junction_alt(result: "Result") -> str:
    return "Junction temperature against its limit. " + "; ".join(
        f"{j.name} peaks at {j.peak_c:.1f} degC at {duration(j.peak_at_s)}, "
        f"{below_or_above(j.margin_k)}"
        for j in junctions(result)
    )


def _node_alt(result: "Result") -> str:
    limited = "; ".join(
        f"{n.name} peaks at {n.peak_c:.1f} degC, {below_or_above(n.margin_k)}"
        for n in limited_nodes(result)
    )
    return "Temperatures of the nodes and the ambient. " + (limited or "No node has a limit")


def _sensing_alt(result: "Result") -> str:
    return "Reading, thermistor and hottest junction. " + "; ".join(
        f"{name} reads between {number(s.worst_low_k, 2)} and {number(s.worst_high_k, 2)} K off"
        if math.isfinite(s.worst_low_k)
        else f"{name} gives no healthy reading"
        for name, s in result.merit.sensors.items()
    )


def _drive_alt(result: "Result") -> str:
    return (
        "Request, limit and duty of each channel. Light is held back for "
        f"{duration(result.merit.throttled_s)} in all"
    )


def _light_alt(result: "Result") -> str:
    return (
        "Luminous flux asked for and delivered. "
        f"{percent(result.merit.share_of_request)} of what was asked for is delivered"
    )


KINDS: tuple[Kind["Result"], ...] = (
    Kind(
        "overview",
        "The run at a glance",
        overview_figure,
        _overview_alt,
        "The ring marks the peak of whatever comes closest to its limit. Yellow ground "
        "between asked for and delivered is light that thermal control held back.",
    ),
    Kind(
        "junctions",
        "Junctions",
        junction_figure,
        _junction_alt,
        "Look at the ring: the highest temperature, found between control ticks and at the crest "
        "of the PWM ripple too, and how far the dashed limit is from it.",
    ),
    Kind(
        "nodes",
        "Other temperatures",
        node_figure,
        _node_alt,
        "First the nodes that have a limit of their own, then the hottest nodes together: the "
        "distance between two lines is the temperature lost on the way from one to the next.",
    ),
    Kind(
        "sensing",
        "What the firmware reads",
        sensing_figure,
        _sensing_alt,
        "The firmware knows only the thin black reading. Its distance to the hottest junction is "
        "what the thresholds have to allow for; the strip beneath shows the error of the chain "
        "itself. On a red ground the firmware has seen a sensor fault.",
    ),
    Kind(
        "drive",
        "Request, limit and duty",
        drive_figure,
        _drive_alt,
        "Where the driven line leaves the request, the drive limit acts; yellow ground is drive "
        "held back. Blue ground, if there is any, is time in which the lamp hunts; what lies on "
        "the darkest blue is drawn close beneath.",
    ),
    Kind(
        "light",
        "Light",
        light_figure,
        _light_alt,
        "Yellow ground is light asked for and not given. Steep edges that the request does not "
        "have are seen by the user.",
    ),
)
"""Those of every run, in the order of the page."""


def kinds_of(result: "Result", possible: "Possible | None") -> tuple[Kind["Result"], ...]:
    """All figures of a run: also of its colour where it is known, and beside the possible."""
    colour = colour_of(result)
    return (
        *KINDS,
        *([] if colour is None else [colour_kind(colour)]),
        *([possible_kind(possible)] if possible is not None and possible.unheld is None else []),
    )


def svg_of(figure: Figure) -> str:
    """A figure as SVG, the same bytes every time; its text stays text."""
    out = io.StringIO()
    with drawing():
        FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None})
    return out.getvalue().replace("'DejaVu Sans'", FONTS)


def png_of(figure: Figure) -> bytes:
    """A figure as PNG."""
    out = io.BytesIO()
    with drawing():
        figure.set_dpi(style.PNG_DPI)
        FigureCanvasAgg(figure).print_png(out, metadata={"Software": None})
    return out.getvalue()


def inlined(svg: str, name: str, alt: str) -> str:
    """An SVG made to stand inside a page: no header, ids of its own, a spoken description."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>\s*", "", body, flags=re.DOTALL)
    body = re.sub(r'\bid="', f'id="{name}-', body)
    body = re.sub(r"url\(#", f"url(#{name}-", body)
    body = re.sub(r'href="#', f'href="#{name}-', body)
    return body.replace("<svg ", f'<svg {LEFT} role="img" aria-label="{_attribute(alt)}" ', 1)


def drawn(
    kinds: Iterable[Kind[Subject]],
    subject: Subject,
    doing: Callable[[str], object] = lambda doing: None,
) -> Generator[tuple[str, bytes], None, dict[str, str]]:
    """Name and bytes of each figure as SVG and PNG; returns kind name -> the SVG for the page.

    ``doing`` is told before each what is being drawn.
    """
    drawings = {}
    for kind in kinds:
        doing(f"drawing {kind.heading[0].lower()}{kind.heading[1:]}")
        figure = kind.draw(subject)
        svg = svg_of(figure)
        drawings[kind.name] = inlined(svg, kind.name, typeset(kind.alt(subject)))
        yield f"{kind.name}.svg", encoded(svg)
        yield f"{kind.name}.png", png_of(figure)
    return drawings


def _attribute(text: str) -> str:
    for sign, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(sign, entity)
    return text
