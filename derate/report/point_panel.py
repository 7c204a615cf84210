"""Figures of the operating point: panels below each other, margins chosen for their words."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.sheet import plain
from derate.report.words import typeset

HERE = style.PALETTE[0]
"""The colour of the point itself in every curve."""


def stacked(
    heights_in: Sequence[float],
    *,
    left_in: float = style.LEFT_IN,
    right_in: float = style.RIGHT_IN,
    gap_in: float = 0.5,
    top_in: float = style.TOP_IN,
    bottom_in: float = style.BOTTOM_IN,
) -> tuple[Figure, tuple[Axes, ...]]:
    """A figure of panels of one width, ``heights_in`` [in] top to bottom."""
    height_in = top_in + sum(heights_in) + gap_in * (len(heights_in) - 1) + bottom_in
    figure = Figure(figsize=(style.WIDTH_IN, height_in), facecolor="white")
    found: list[Axes] = []
    foot_in = height_in - top_in + gap_in
    for panel_in in heights_in:
        foot_in -= panel_in + gap_in
        panel = figure.add_axes(
            (
                left_in / style.WIDTH_IN,
                foot_in / height_in,
                1.0 - (left_in + right_in) / style.WIDTH_IN,
                panel_in / height_in,
            )
        )
        plain(panel, last=len(found) == len(heights_in) - 1)
        panel.tick_params(which="both", length=0)
        found.append(panel)
    return figure, tuple(found)


def asked(panel: Axes, across: float, height: float, words: str) -> None:
    """A square where the lamp is as it is asked to be, with its words."""
    panel.plot([across], [height], marker="s", markersize=6, color=style.INK, zorder=6,
               clip_on=False)  # fmt: skip
    panel.annotate(
        typeset(words), (across, height), xytext=(8, -5), textcoords="offset points", va="top",
        ha="left", color=style.INK, fontweight="bold", zorder=5,
    )  # fmt: skip


def beside(
    panel: Axes,
    text: str,
    row: float,
    across_in: float,
    *,
    edge: int = 0,
    align: str = "left",
    color: str = style.SOFT,
    size_pt: float = style.TEXT_PT,
    weight: str = "normal",
) -> None:
    """Words at the height ``row``, ``across_in`` [in] from the left edge (0) or the right (1)."""
    panel.annotate(
        typeset(text), (edge, row), xycoords=("axes fraction", "data"), annotation_clip=False,
        xytext=(72.0 * across_in, 0), textcoords="offset points", va="center", ha=align,
        color=color, fontsize=size_pt, fontweight=weight,
    )  # fmt: skip
