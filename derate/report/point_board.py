"""The board at rest: how hot it is where, and where a thermistor would tell most."""

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.report import style
from derate.report.point_panel import HERE
from derate.report.point_plan import (
    HEAT,
    NEAR,
    channels_named,
    covered,
    filled,
    outlined,
    padded,
    pinned,
    plans,
)
from derate.report.sheet import drawn
from derate.report.strokes import strokes
from derate.report.words import figures, typeset

if TYPE_CHECKING:
    from derate.plant.board.layout import Layout
    from derate.study.point import PointStudy

Array = NDArray[np.float64]

ABOVE_IN = 0.09


@drawn
def board_figure(study: "PointStudy") -> Figure:
    """Temperature of the board in steps, pads in the colours of their channels, sensors, holes."""
    layout = _layout(study)
    field = study.board.field if study.board else None
    figure, (panel,) = plans(layout, 1)
    _title(panel, "temperature of the board [degC]")
    if field is not None:
        filled(panel, layout, field.x_m, field.y_m, covered(field.temperature_c), HEAT)
        hottest = np.unravel_index(np.nanargmax(field.temperature_c), field.temperature_c.shape)
        at_m = (float(field.x_m[hottest[1]]), float(field.y_m[hottest[0]]))
        pinned(panel, at_m, f"{field.temperature_c[hottest]:.1f} degC", marker="o",
               colour=style.WARNING, above=True)  # fmt: skip
    _furnish(panel, study, layout)
    for node, at_m in layout.places.items():
        _pin_sensor(panel, node, at_m)
    channels_named(panel, _colours(study))
    return figure


@drawn
def places_figure(study: "PointStudy") -> Figure:
    """Where a thermistor may sit: how far below the hottest junction, how late, and the advice."""
    layout = _layout(study)
    figure, panels = plans(layout, 2)
    places = study.board.places if study.board else None
    titles = ("below the hottest junction [K]", "later than the hottest junction [s]")
    for panel, title in zip(panels, titles, strict=True):
        _title(panel, title)
        _furnish(panel, study, layout)
    if places is not None:
        for panel, value, unit, advised in (
            (panels[0], places.offset_k, "K", places.advised_offset_k),
            (panels[1], places.lag_s, "s", places.advised_lag_s),
        ):
            filled(panel, layout, places.x_m, places.y_m, value, NEAR)
            for node, at_m in layout.places.items():
                _pin_sensor(panel, node, at_m, near(places, value, at_m), unit)
            pinned(panel, places.advised_m, f"advised {figures(advised)} {unit}", marker="o",
                   colour=HERE, above=True)  # fmt: skip
    return figure


def near(places: Any, value: Array, at_m: tuple[float, float]) -> float:
    """The value of the map in the cell nearest to a position [m]; nan where none may sit."""
    column = int(np.argmin(np.abs(places.x_m - at_m[0])))
    row = int(np.argmin(np.abs(places.y_m - at_m[1])))
    return float(value[row, column])


def _layout(study: "PointStudy") -> "Layout":
    from derate.plant.board.layout import layout_of

    return layout_of(study.lamp)


def _furnish(panel: Axes, study: "PointStudy", layout: "Layout") -> None:
    outlined(panel, layout)
    padded(panel, layout, _colours(study))


def _colours(study: "PointStudy") -> dict[str, str]:
    return {name: stroke.colour for name, stroke in strokes(list(study.requests)).items()}


def _pin_sensor(
    panel: Axes, node: str, at_m: tuple[float, float], value: float = math.nan, unit: str = ""
) -> None:
    """A sensor of the lamp, with the value of a map there."""
    name = node.removeprefix("place.")
    words = f"{name} {figures(value)} {unit}" if math.isfinite(value) else name
    pinned(panel, at_m, words, marker="D", colour=style.INK, above=False)


def _title(panel: Axes, words: str) -> None:
    """Quantity and unit above the board."""
    height_in = panel.get_window_extent().height / panel.figure.dpi
    panel.annotate(
        typeset(words), (0.0, 1.0 + ABOVE_IN / height_in), xycoords="axes fraction", va="bottom",
        color=style.INK, annotation_clip=False,
    )  # fmt: skip
