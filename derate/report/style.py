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
CLOSE_UP_WASH = "#b9c2e0"

LIMIT = Stroke(INK, (0, (11, 3)), 1.3)
"""A limit of temperature: dark, straight, in long dashes, a look that no channel has."""
CONTROL_LIMIT = Stroke(INK, (0, (2, 2.2)), 1.1)
NODE = Stroke(INK, "-", 1.5)
HOTTEST = Stroke("#6b4a86", "-", 1.7)
READING = Stroke(INK, "-", 0.9)
TRUTH = Stroke("#a9b3c0", "-", 3.2)
ASKED = Stroke("#9aa4b1", "-", 1.0)
AMBIENT = Stroke("#7f8a98", (0, (1, 1.6)), 1.2)
AIRFLOW = Stroke("#3f6f8a", "-", 1.2)
FINE_PT = 1.0
"""Width of lines that go up and down many times [pt]."""
ERROR = Stroke(SOFT, "-", 0.6)
EVENT_PT = 0.6
EVENT_FADE = 0.45

PALETTE = (
    "#12558f",
    "#b87300",
    "#2a9268",
    "#8a3f7d",
    "#6f8f1c",
    "#8f5a35",
    "#4b87c4",
    "#6d2230",
)
"""Colours of channels and nodes whose names say none, in the order of the lamp file."""

TONES = {
    "red": ("#a3221c", "#cf6a5a"),
    "green": ("#2a9268", "#1c5f3f"),
    "blue": ("#12558f", "#4b87c4"),
    "amber": ("#b87300", "#857000"),
    "orange": ("#b87300", "#857000"),
    "yellow": ("#857000", "#b87300"),
    "lime": ("#6f8f1c",),
    "cyan": ("#1a8ba3",),
    "warm": ("#8f5a35",),
    "cool": ("#4b87c4",),
    "uv": ("#5b3a9e",),
    "violet": ("#5b3a9e",),
    "purple": ("#8a3f7d",),
    "magenta": ("#c2468f",),
    "pink": ("#c2468f",),
    "infrared": ("#6d2230",),
    "ir": ("#6d2230",),
    "white": ("#525a64", "#808995"),
}
"""Colours of channels and nodes whose names say one; white is a neutral dark tone on paper."""

DASHES: tuple[tuple[Dash, float], ...] = (
    ("-", 1.7),
    ((0, (6, 1.4)), 1.7),
    ((0, (5, 1.3, 1.2, 1.3)), 1.7),
    ((0, (1.4, 1.1)), 1.9),
    ((0, (9, 2)), 1.4),
    ((0, (3, 1, 1, 1, 1, 1)), 1.4),
    ((0, (2.8, 1.6)), 1.5),
    ((0, (8, 1.2, 2.5, 1.2)), 1.5),
)
"""Dash and width [pt] of channels and nodes, in the order of the lamp file."""

TEXT_PT = 8.5
SMALL_PT = 7.5
HEAD_PT = 11.0
LINE_SPACE = 1.3
CHARACTER_EM = 0.58
"""Mean width of a character, in ems of the font."""

WIDTH_IN = 8.0
LEFT_IN = 0.55
RIGHT_IN = 1.45
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
    "text.hinting": "none",  # a fifth of the time of a figure, and unseen at this resolution
    "path.simplify": True,
    "axes.unicode_minus": True,
    "text.usetex": False,
}
"""Settings in force while a figure is made and written."""


CLEAR = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
"""A clear ground for words that lines would cross."""


def text_width_in(text: str, size_pt: float = TEXT_PT) -> float:
    """Estimated width of a text [in]."""
    return len(text) * CHARACTER_EM * size_pt / 72.0
