"""What the firmware reads beside what is true."""

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from derate.control import command
from derate.report import style
from derate.report.sheet import Label, Sheet, drawn, last_number, name_axis
from derate.report.strokes import channel_strokes

if TYPE_CHECKING:
    from derate.loop.run import Result

MARGIN_K = 4.0
LEAST_ERROR_K = 0.5


@drawn
def sensing_figure(result: "Result") -> Figure:
    """For each sensor the temperatures, and the reading's error in a strip beneath."""
    sensors = list(result.merit.sensors)
    sheet = Sheet(result, [1.9, 0.85] * len(sensors))
    faulty = (result.trace["status"].astype(int) & command.FAULT) != 0
    hottest_c = np.max([result.trace[f"junction_{c}_c"] for c in result.merit.channels], axis=0)
    for number, name in enumerate(sensors):
        above, beneath = sheet.panels[2 * number : 2 * number + 2]
        _draw_temperatures(sheet, above, result, name, hottest_c)
        _draw_error(sheet, beneath, result, name, faulty)
        for panel in (above, beneath):
            sheet.wash(panel, faulty, style.FAULT_WASH)
    return sheet.figure


def _draw_temperatures(
    sheet: Sheet, panel: Axes, result: "Result", name: str, hottest_c: NDArray[np.float64]
) -> None:
    """Hottest junction, thermistor and reading; a reading far off the scale leaves the panel."""
    reading_c = result.trace[f"reading_{name}_c"]
    thermistor_c = result.trace[f"thermistor_{name}_c"]
    only = list(channel_strokes(result).values())
    junction = only[0] if len(only) == 1 else style.HOTTEST
    sheet.line(panel, hottest_c, junction)
    sheet.line(panel, thermistor_c, style.TRUTH, rank=2.1)
    sheet.line(panel, reading_c, style.READING, rank=2.2)
    panel.set_ylim(
        float(np.min(thermistor_c)) - MARGIN_K,
        max(float(np.max(hottest_c)), float(np.max(thermistor_c))) + MARGIN_K,
    )
    sheet.label(
        panel,
        [
            Label("hottest junction", float(hottest_c[-1]), junction.colour),
            Label("reading", last_number(reading_c), style.READING.colour),
            Label("thermistor", float(thermistor_c[-1]), "#7a8696"),
        ],
    )
    name_axis(panel, f"sensor {name} [degC]")


def _draw_error(
    sheet: Sheet, panel: Axes, result: "Result", name: str, faulty: NDArray[np.bool_]
) -> None:
    """Reading minus thermistor, on a scale that the healthy samples set."""
    error_k = result.trace[f"reading_{name}_c"] - result.trace[f"thermistor_{name}_c"]
    healthy = np.abs(error_k[~faulty & np.isfinite(error_k)])
    widest_k = max(LEAST_ERROR_K, 1.2 * float(healthy.max()) if len(healthy) else 0.0)
    panel.axhline(0.0, color=style.SOFT, linewidth=0.7)
    sheet.line(panel, error_k, style.ERROR)
    panel.set_ylim(-widest_k, widest_k)
    panel.locator_params(axis="y", nbins=4)
    name_axis(panel, f"reading of {name} minus thermistor [K]")
