"""A board seen from above: outline, holes, pads and sensors, and a field over it in steps."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from derate.report import style
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.plant.board.layout import Layout

Array = NDArray[np.float64]

MILLI = 1e3
HEAT = ("#faf3e3", "#f2d594", "#e0a24a", "#c2632c", "#8c2a20")
"""From the coolest place to the hottest; each step is darker than the one before."""
NEAR = ("#17466f", "#4b87b4", "#9dc0d8", "#e8f0f5")
"""From a small value, which is good, to a large one; each step is paler."""
MOST_STEPS = 8
CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
EDGE = style.Stroke(style.INK, "-", 1.1)
TICKS = 5
KEY_STEP_IN, KEY_IN, KEY_GAP_IN = 0.19, 0.16, 0.14
"""Height of a step of the key, its width, and its distance from the board."""
MOST_HEIGHT_IN = 3.6


def plans(
    layout: "Layout",
    count: int,
    *,
    side_in: float = 1.0,
    gap_in: float = 1.05,
    above_in: float = 0.0,
) -> tuple[Figure, tuple[Axes, ...]]:
    """A figure of ``count`` plans of one board beside each other, in millimetres."""
    left, right, foot, top = extent_mm(layout)
    room_in = style.WIDTH_IN - style.LEFT_IN - side_in - gap_in * (count - 1)
    width_in = min(room_in / count, MOST_HEIGHT_IN * (right - left) / (top - foot))
    height_in = width_in * (top - foot) / (right - left)
    whole_in = style.TOP_IN + above_in + height_in + style.BOTTOM_IN
    figure = Figure(figsize=(style.WIDTH_IN, whole_in), facecolor="white")
    panels = []
    for number in range(count):
        left_in = style.LEFT_IN + number * (width_in + gap_in)
        panel = figure.add_axes(
            (
                left_in / style.WIDTH_IN,
                style.BOTTOM_IN / whole_in,
                width_in / style.WIDTH_IN,
                height_in / whole_in,
            )
        )
        _plain(panel)
        panel.set_xlim(left, right)
        panel.set_ylim(foot, top)
        panels.append(panel)
    return figure, tuple(panels)


def extent_mm(layout: "Layout") -> tuple[float, float, float, float]:
    """Left, right, lower and upper end of the board, with a little room [mm]."""
    corners = MILLI * layout.outline
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = 0.015 * float(np.max(high - low))
    return low[0] - room, high[0] + room, low[1] - room, high[1] + room


def filled(
    panel: Axes, layout: "Layout", x_m: Array, y_m: Array, value: Array, colours: Sequence[str]
) -> None:  # fmt: skip
    """The field ``value`` (y, x) in steps, cut at the outline, with a key at the right.

    Where it is nan the ground stays white.
    """
    finite = value[np.isfinite(value)]
    if len(finite) == 0:
        return
    bounds = MaxNLocator(MOST_STEPS, steps=[1, 2, 2.5, 5, 10]).tick_values(
        float(finite.min()), float(finite.max())
    )
    scale = LinearSegmentedColormap.from_list("house", list(colours), len(bounds) - 1)
    across = _to_the_edge(MILLI * x_m, panel.get_xlim())
    along = _to_the_edge(MILLI * y_m, panel.get_ylim())
    whole = np.pad(value, 1, mode="edge")
    fill = panel.contourf(across, along, whole, levels=bounds, cmap=scale, zorder=1)
    lines = panel.contour(
        across, along, whole, levels=bounds, colors="white", linewidths=0.7, zorder=2
    )
    edge = Polygon(MILLI * layout.outline, closed=True, transform=panel.transData)
    for part in (fill, lines):
        part.set_clip_path(edge)
    tones = [scale(step) for step in range(len(bounds) - 1)]
    decimals = max(len(f"{bound:.6g}".partition(".")[2]) for bound in bounds)
    _key(panel, tones, [typeset(f"{bound:.{decimals}f}") for bound in bounds])


def channels_named(panel: Axes, colour_of: dict[str, str]) -> None:
    """Names of the channels in their colours, at the right of the upper edge."""
    for number, (name, colour) in enumerate(colour_of.items()):
        panel.annotate(
            f"\N{WHITE SQUARE} {name}", (1.0, 1.0), xycoords="axes fraction",
            xytext=(72 * KEY_GAP_IN, -6 - number * style.TEXT_PT * style.LINE_SPACE),
            textcoords="offset points", va="center", color=colour, annotation_clip=False,
        )  # fmt: skip


def covered(value: Array) -> Array:
    """The field with the nearest value put in wherever it is nan, so that it reaches any edge."""
    from scipy.ndimage import distance_transform_edt

    missing = ~np.isfinite(value)
    if not np.any(missing) or np.all(missing):
        return value
    rows, columns = distance_transform_edt(missing, return_distances=False, return_indices=True)
    found: Array = value[rows, columns]
    return found


def _to_the_edge(middles: Array, ends: tuple[float, float]) -> Array:
    """The middles of cells, and a value beyond each end of the board."""
    return np.concatenate(
        [[min(ends[0], middles[0] - 1e-9)], middles, [max(ends[1], middles[-1] + 1e-9)]]
    )


def _key(panel: Axes, tones: Sequence[Any], bounds: Sequence[str]) -> None:
    """The steps as a ladder right of the panel, the bounds between them."""
    box = panel.get_window_extent()
    per_in = panel.figure.dpi
    step = KEY_STEP_IN * per_in / box.height
    left, width = 1.0 + KEY_GAP_IN * per_in / box.width, KEY_IN * per_in / box.width
    for number, tone in enumerate(tones):
        panel.add_patch(
            Rectangle(
                (left, number * step), width, step, facecolor=tone, edgecolor="white",
                linewidth=0.7, transform=panel.transAxes, clip_on=False,
            )
        )  # fmt: skip
    for number, bound in enumerate(bounds):
        panel.annotate(
            bound, (left + width, number * step), xycoords="axes fraction", xytext=(4, 0),
            textcoords="offset points", va="center", fontsize=style.SMALL_PT, color=style.SOFT,
            annotation_clip=False,
        )  # fmt: skip


def outlined(panel: Axes, layout: "Layout") -> None:
    """The edge of the board and its holes."""
    for corners, zorder in ((layout.outline, 5), *((hole, 4) for hole in layout.holes)):
        face = "none" if zorder == 5 else "white"
        panel.add_patch(
            Polygon(
                MILLI * corners, closed=True, facecolor=face, edgecolor=EDGE.colour,
                linewidth=EDGE.width_pt, zorder=zorder,
            )
        )  # fmt: skip


def padded(panel: Axes, layout: "Layout", colour_of: dict[str, str]) -> None:
    """The pads of all emitters, their edge in the colour of the channel."""
    for node, pad in layout.pads.items():
        area = pad.copper
        middle = np.array([area.x_m, area.y_m])
        half = CORNERS * np.array([area.width_m, area.height_m]) / 2
        channel = node.split(".")[1]
        panel.add_patch(
            Polygon(
                MILLI * (middle + half), closed=True, facecolor="none",
                edgecolor=colour_of.get(channel, style.INK), linewidth=1.3, zorder=4,
            )
        )  # fmt: skip


def pinned(panel: Axes, at_m: tuple[float, float], *, marker: str, colour: str) -> None:
    """A mark at a position [m]."""
    panel.plot(
        MILLI * at_m[0], MILLI * at_m[1], marker=marker, markersize=8, markerfacecolor="white",
        markeredgecolor=colour, markeredgewidth=1.7, zorder=7,
    )  # fmt: skip


def named(panel: Axes, at_m: tuple[float, float], words: str, *, colour: str, above: bool) -> None:
    """A few words at a mark, on a clear ground, kept inside the board."""
    at = (MILLI * at_m[0], MILLI * at_m[1])
    left, right = panel.get_xlim()
    share = (at[0] - left) / (right - left)
    align = "left" if share < 0.25 else "right" if share > 0.75 else "center"
    along_pt = {"left": -5, "center": 0, "right": 5}[align]
    panel.annotate(
        typeset(words), at, xytext=(along_pt, 9 if above else -9), textcoords="offset points",
        ha=align, va="bottom" if above else "top", color=colour, fontweight="bold", zorder=8,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2, "alpha": 0.85},
    )  # fmt: skip


def titled(panel: Axes, lines: Sequence[tuple[str, str]]) -> None:
    """Words in their colours above the board, a line each; the first is the uppermost."""
    for number, (words, colour) in enumerate(reversed(lines)):
        panel.annotate(
            typeset(words), (0.0, 1.0), xycoords="axes fraction",
            xytext=(0, 6 + number * style.TEXT_PT * style.LINE_SPACE), textcoords="offset points",
            va="bottom", color=colour, annotation_clip=False,
        )  # fmt: skip


def _plain(panel: Axes) -> None:
    panel.set_facecolor("none")
    panel.set_aspect("equal")
    for spine in panel.spines.values():
        spine.set_visible(False)
    for axis in (panel.xaxis, panel.yaxis):
        axis.set_major_locator(MaxNLocator(TICKS, steps=[1, 2, 5, 10]))
        axis.set_major_formatter(FuncFormatter(lambda value, _: typeset(f"{value:g}")))
    panel.tick_params(colors=style.SOFT, labelsize=style.SMALL_PT, length=0, pad=3)
    panel.set_xlabel("place on the board [mm]", color=style.SOFT, labelpad=1)
