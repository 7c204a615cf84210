"""The board at rest: how hot it is where, and where a thermistor would tell most."""

from typing import TYPE_CHECKING

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
    named,
    outlined,
    padded,
    pinned,
    plans,
    titled,
)
from derate.report.sheet import drawn
from derate.report.strokes import strokes
from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.plant.board.layout import Layout
    from derate.plant.board.maps import SensorMap
    from derate.study.point import PointStudy

Array = NDArray[np.float64]

LINE_IN = style.TEXT_PT * style.LINE_SPACE / 72.0


@drawn
def board_figure(study: "PointStudy") -> Figure:
    """Temperature of the board in steps, pads in the colours of their channels, sensors, holes."""
    layout = _layout(study)
    field = study.board.field if study.board else None
    figure, (panel,) = plans(layout, 1)
    titled(panel, [("temperature of the board [degC]", style.INK)])
    _furnish(panel, study, layout)
    channels_named(panel, _colours(study))
    for node, at_m in layout.places.items():
        pinned(panel, at_m, marker="D", colour=style.INK)
        named(panel, at_m, node.removeprefix("place."), colour=style.INK, above=False)
    if field is not None:
        filled(panel, layout, field.x_m, field.y_m, covered(field.temperature_c), HEAT)
        row, column = np.unravel_index(np.nanargmax(field.temperature_c), field.temperature_c.shape)
        at_m = (float(field.x_m[column]), float(field.y_m[row]))
        words = f"{number(field.temperature_c[row, column])} degC"
        pinned(panel, at_m, marker="o", colour=style.WARNING)
        named(panel, at_m, words, colour=style.WARNING, above=True)
    return figure


@drawn
def places_figure(study: "PointStudy") -> Figure:
    """Where a thermistor may sit: how far below the hottest junction, how late, and the advice."""
    layout = _layout(study)
    places = study.board.places if study.board else None
    figure, panels = plans(layout, 2, above_in=(1 + len(layout.places)) * LINE_IN)
    if places is None:
        return figure
    told = (
        ("below the hottest junction [K]", places.offset_k, "K", places.advised_offset_k),
        ("later than the hottest junction [s]", places.lag_s, "s", places.advised_lag_s),
    )
    for panel, (title, value, unit, advised) in zip(panels, told, strict=True):
        lines = [(title, style.INK), (f"{ADVISED} advised {figures(advised)} {unit}", HERE)]
        filled(panel, layout, places.x_m, places.y_m, value, NEAR)
        _furnish(panel, study, layout)
        for node, at_m in layout.places.items():
            pinned(panel, at_m, marker="D", colour=style.INK)
            here = figures(near(places, value, at_m))
            words = f"{here} {unit}" if here != "-" else "near a pad, hole or edge"
            lines.append((f"{PRESENT} {node.removeprefix('place.')} {words}", style.INK))
        pinned(panel, places.advised_m, marker="o", colour=HERE)
        titled(panel, lines)
    return figure


ADVISED, PRESENT = "\N{WHITE CIRCLE}", "\N{WHITE DIAMOND}"
"""The marks of the maps, in words."""


def near(places: "SensorMap", value: Array, at_m: tuple[float, float]) -> float:
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
