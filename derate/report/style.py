"""How every figure looks: colours, line styles, sizes, in this one place.

The colours stay apart for colour-blind readers and differ in lightness; every line also differs
in dash or width, so that a page printed in grey still tells them apart.
"""

from typing import Any, NamedTuple

Dash = str | tuple[float, tuple[float, ...]]


class Stroke(NamedTuple):
    """How a line is drawn: colour, dash pattern, width [pt]."""

    colour: str
    dash: Dash
    width_pt: float


INK = "#1c2128"
SOFT = "#5d6672"
PALE = "#d5dae1"
GRID = "#e9ecf0"
WARNING = "#a3221c"
FAULT_WASH = "#f6e6e4"
OVER = "#e9b9b4"
HELD_BACK = "#f4e1b5"
HUNTING_WASH = "#e6e9f3"

LIMIT = Stroke(WARNING, (0, (7, 2)), 1.1)
CONTROL_LIMIT = Stroke(INK, (0, (2, 2.2)), 1.1)
READING = Stroke(INK, "-", 0.9)
TRUTH = Stroke("#a9b3c0", "-", 3.2)
ASKED = Stroke("#9aa4b1", "-", 1.0)
AMBIENT = Stroke("#7f8a98", (0, (1, 1.6)), 1.2)
ERROR = Stroke(SOFT, "-", 0.6)
EVENT_PT = 0.6
EVENT_FADE = 0.45

SERIES = (
    Stroke("#12558f", "-", 1.7),
    Stroke("#cf7a0a", (0, (6, 1.4)), 1.7),
    Stroke("#2b8a7c", (0, (5, 1.3, 1.2, 1.3)), 1.7),
    Stroke("#8a3f7d", (0, (1.4, 1.1)), 1.9),
    Stroke("#5f6b1d", (0, (9, 2)), 1.4),
    Stroke("#9c5a4b", (0, (3, 1, 1, 1, 1, 1)), 1.4),
)
"""Channels and nodes, in the order of the lamp file."""

TEXT_PT = 8.5
SMALL_PT = 7.5
HEAD_PT = 11.0
LINE_SPACE = 1.3
CHARACTER_EM = 0.58
"""Mean width of a character, in ems of the font."""

WIDTH_IN = 8.0
LEFT_IN = 0.55
RIGHT_IN = 1.35
BOTTOM_IN = 0.46
GAP_IN = 0.36
TOP_IN = 0.34
EVENT_ROW_IN = 0.165
EVENT_GAP_IN = 0.22
HEAD_IN = 0.5
PNG_DPI = 120

RC: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT_PT,
    "svg.fonttype": "none",
    "svg.hashsalt": "derate",
    "path.simplify": True,
    "axes.unicode_minus": True,
    "text.usetex": False,
}
"""Settings in force while a figure is made and written."""


CLEAR = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
"""A clear ground for words that lines would cross."""


def series(index: int) -> Stroke:
    """Stroke of the channel or node at ``index``; colours come round again after six."""
    return SERIES[index % len(SERIES)]


def text_width_in(text: str, size_pt: float = TEXT_PT) -> float:
    """Estimated width of a text [in]."""
    return len(text) * CHARACTER_EM * size_pt / 72.0
