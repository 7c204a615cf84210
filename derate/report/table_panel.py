"""Figures of the reading table: panels of one width, names of lines at their right end."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from derate.report import style
from derate.report.labels import spread
from derate.report.sheet import Label, lead, name_axis, plain
from derate.report.words import typeset

LEADER_IN = 0.16
NOTE_GROUND = {"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85}


def panels(
    heights_in: Sequence[float],
    *,
    right_in: float = style.RIGHT_IN,
    gap_in: float = 0.5,
    above_in: float = 0.0,
) -> tuple[Figure, tuple[Axes, ...]]:
    """A figure of empty panels, ``heights_in`` [in] top to bottom, with room for names right.

    ``above_in`` [in] is kept free between the first panel and its name.
    """
    top_in = style.TOP_IN + above_in
    height_in = top_in + sum(heights_in) + gap_in * (len(heights_in) - 1) + style.BOTTOM_IN
    figure = Figure(figsize=(style.WIDTH_IN, height_in), facecolor="white")
    width = 1.0 - (style.LEFT_IN + right_in) / style.WIDTH_IN
    found = []
    foot_in = height_in - top_in + gap_in
    for number, panel_in in enumerate(heights_in):
        foot_in -= panel_in + gap_in
        left, foot = style.LEFT_IN / style.WIDTH_IN, foot_in / height_in
        panel = figure.add_axes((left, foot, width, panel_in / height_in))
        plain(panel, last=number == len(heights_in) - 1)
        panel.tick_params(which="both", length=0)
        found.append(panel)
    return figure, tuple(found)


def name_axes(panel: Axes, across: str | None, upward: str) -> None:
    """Quantity and unit of both axes; ``upward`` stands flat above the panel."""
    name_axis(panel, upward)
    if across is not None:
        panel.set_xlabel(typeset(across), color=style.SOFT, labelpad=2)


def raised(panel: Axes, by_in: float) -> tuple[float, float]:
    """Where the name of the vertical axis stands when it is moved up by ``by_in`` [in]."""
    box = panel.get_window_extent()
    dpi = panel.figure.dpi
    return -0.42 * dpi / box.width, 1.0 + (0.085 + by_in) * dpi / box.height


def name_lines(panel: Axes, labels: Sequence[Label], ends: Sequence[float] = ()) -> None:
    """Name lines at their right end; the scale of the panel must be final.

    ``ends``: where on the axis across each line ends, if not at the edge of the panel.
    """
    panel.get_ylim()  # applies the scale
    to_pixels = panel.transData.transform
    foot, top = panel.get_window_extent().y0, panel.get_window_extent().y1
    per_pt = panel.figure.dpi / 72.0
    heights = [min(max(to_pixels((1.0, label.at))[1], foot), top) for label in labels]
    ends_pt = [(height - foot) / per_pt for height in heights]
    height_pt = (top - foot) / per_pt
    places_pt = spread(ends_pt, style.TEXT_PT * style.LINE_SPACE, 3.0, height_pt - 2.0)
    width_in = panel.get_window_extent().width / panel.figure.dpi
    for i, (label, end_pt, place_pt) in enumerate(zip(labels, ends_pt, places_pt, strict=True)):
        reached = min(share(panel, ends[i]), 1.0) if ends else 1.0
        place = (1.0 + LEADER_IN / width_in, place_pt / height_pt)
        lead(panel, label, (reached, end_pt / height_pt), place)


def share(panel: Axes, at: float) -> float:
    """How far along the axis across a value lies: 0 at the left end, 1 at the right."""
    x, _ = panel.transData.transform((at, panel.get_ylim()[0]))
    return float(panel.transAxes.inverted().transform((x, 0.0))[0])


def note(
    panel: Axes,
    text: str,
    at: tuple[float, float],
    *,
    offset_pt: tuple[float, float],
    **how: object,
) -> None:
    """A few small words beside a point of the data, on a clear ground."""
    words: dict[str, object] = {
        "fontsize": style.SMALL_PT,
        "color": style.SOFT,
        "bbox": NOTE_GROUND,
        "annotation_clip": False,
        **how,
    }
    panel.annotate(typeset(text), at, xytext=offset_pt, textcoords="offset points", **words)  # type: ignore[arg-type]


def wash_faults(panel: Axes, low: float, high: float) -> None:
    """Colour what lies below ``low`` and above ``high`` on the axis across as a fault."""
    left, right = panel.get_xlim()
    for start, end in ((left, low), (high, right)):
        if start < end:
            panel.axvspan(start, end, color=style.FAULT_WASH, linewidth=0, zorder=0)
