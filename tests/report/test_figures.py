"""Every figure: panels with units, lines, and the same bytes each time."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from derate.report.closeup import close_rows
from derate.report.figures import KINDS, inlined, png_of, svg_of
from derate.report.strokes import channel_strokes

UNIT = re.compile(r"\[(°C|K|%|% of full|lm|s|min|h)\]|1 = as in the lamp file")
ONE_TICK_S = 0.5
"""Rows stand at ticks; a window ends at one of them."""
MOST_BYTES = 250_000
"""Six such figures make a page that any mail program takes."""
KIND = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


@KIND
@pytest.mark.parametrize("which", ["held", "exceeded"])
def test_axes_carry_units(kind, which, request):
    """Each figure is a Figure whose panels all name quantity and unit, and time once an axis."""
    figure = kind.draw(request.getfixturevalue(which))
    assert isinstance(figure, Figure)
    for panel in figure.axes:
        assert UNIT.search(panel.get_ylabel()), panel.get_ylabel()
        assert panel.lines
    times = [panel.get_xlabel() for panel in figure.axes if panel.get_xlabel()]
    close = kind.name == "drive" and which == "exceeded"
    assert times == ["time [min]"] + ["time from 17 min 23 s on [s]"] * close


@KIND
def test_drawn_twice_is_the_same(kind, held):
    """The same result gives the same SVG and PNG, byte for byte."""
    assert svg_of(kind.draw(held)) == svg_of(kind.draw(held))
    png = png_of(kind.draw(held))
    assert png == png_of(kind.draw(held))
    assert png.startswith(PNG_SIGNATURE)


@KIND
def test_long_runs_stay_small(kind, long_run):
    """36001 rows give a well-formed SVG of moderate size without a date."""
    svg = svg_of(kind.draw(long_run))
    ElementTree.fromstring(svg)
    assert len(svg) < MOST_BYTES
    assert "dc:date" not in svg


@KIND
def test_words_beside_the_figure(kind, held):
    """Each figure has a caption, and a description with figures from the run."""
    assert len(kind.caption) > 40
    assert re.search(r"\d", kind.alt(held))
    body = inlined(svg_of(kind.draw(held)), kind.name, 'a "b" < c & d')
    root = ElementTree.fromstring(body)
    assert root.get("aria-label") == 'a "b" < c & d'
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert all(name.startswith(f"{kind.name}-") for name in ids)


def test_the_peak_is_marked_where_it_is(exceeded):
    """The ring of the junction figure stands at the peak that the merit names."""
    figure = next(kind for kind in KINDS if kind.name == "junctions").draw(exceeded)
    merit = exceeded.merit.channels["high_beam"]
    rings = [line for line in figure.axes[1].lines if line.get_marker() == "o"]
    assert rings[0].get_xydata().tolist() == [[merit.peak_at_s / 60, merit.peak_junction_c]]


def test_many_channels_leave_out_those_with_most_margin(held):
    """Of nine channels the six with the least margin are shown."""
    names = [f"channel_{i}" for i in range(9)]
    merit = held.merit.channels["low_beam"]
    channels = {name: replace(merit, margin_k=20.0 - i) for i, name in enumerate(names)}
    columns = dict(held.trace.columns)
    for name in names:
        columns |= {
            column.replace("low_beam", name): held.trace[column]
            for column in held.trace.names
            if "low_beam" in column
        }
    result = replace(
        held,
        trace=replace(held.trace, columns=columns),
        merit=replace(held.merit, channels=channels),
    )
    for kind in KINDS:
        figure = kind.draw(result)
        if kind.name in ("junctions", "drive"):
            labels = [panel.get_ylabel() for panel in figure.axes]
            assert [label.split()[2] for label in labels] == names[3:]


def test_a_run_in_the_dark_draws(held):
    """Without any light, without limited nodes, without happenings and readings it still draws."""
    dark = {
        name: np.zeros_like(value) if name.endswith("_lm") or "request" in name else value
        for name, value in held.trace.columns.items()
    }
    dark["reading_board_c"] = np.full_like(dark["time_s"], np.nan)
    result = replace(
        held,
        trace=replace(held.trace, columns=dark),
        happenings=(),
        merit=replace(held.merit, nodes={}),
    )
    for kind in KINDS:
        assert "nan" not in svg_of(kind.draw(result)).lower()


def figure_of(name, result):
    """The figure of that name."""
    return next(kind for kind in KINDS if kind.name == name).draw(result)


def rings_of(panel):
    """Places of the rings in a panel."""
    return [line.get_xydata().tolist() for line in panel.lines if line.get_marker() == "o"]


def words_of(panel):
    """Texts in a panel."""
    return {text.get_text() for text in panel.texts}


def test_the_closest_node_is_in_the_overview(held):
    """A node that comes closest to its limit is drawn with limit and ring among the junctions."""
    panel = figure_of("overview", held).axes[0]
    merit = held.merit.nodes["housing"]
    assert panel.get_ylabel() == "temperatures [°C]"
    assert {"housing", "housing limit 65 °C", "junction limit 125 °C"} <= words_of(panel)
    assert rings_of(panel) == [[[merit.peak_at_s / 60, merit.peak_c]]]
    hottest = [line.get_ydata().max() for line in panel.lines if len(line.get_ydata()) > 2]
    assert held.trace["node_housing_c"].max() in hottest


def test_other_nodes_are_not_in_the_overview(exceeded):
    """If a junction comes closest, nodes stay out, and the ring is at the junction."""
    panel = figure_of("overview", exceeded).axes[0]
    merit = exceeded.merit.channels["high_beam"]
    assert panel.get_ylabel() == "junctions [°C]"
    assert "housing" not in words_of(panel)
    assert rings_of(panel) == [[[merit.peak_at_s / 60, merit.peak_junction_c]]]


def test_different_limits_say_whose_they_are(exceeded):
    """Where channels differ in their limit each line of a limit says to whom it belongs."""
    lower = replace(exceeded.merit.channels["low_beam"], limit_c=115.0, margin_k=1.1)
    channels = {**exceeded.merit.channels, "low_beam": lower}
    result = replace(exceeded, merit=replace(exceeded.merit, channels=channels))
    words = words_of(figure_of("overview", result).axes[0])
    assert {"low_beam limit 115 °C", "high_beam limit 116 °C"} <= words


def test_airflow_is_shown_when_it_varies(held):
    """The overview has a strip for airflow if, and only if, the airflow is not constant."""
    name = "airflow, 1 = as in the lamp file"
    stops = np.where(held.trace["time_s"] > 1000, 0.05, 1.0)
    columns = {**held.trace.columns, "airflow": stops}
    windless = replace(held, trace=replace(held.trace, columns=columns))
    assert name not in [panel.get_ylabel() for panel in figure_of("overview", held).axes]
    strip = figure_of("overview", windless).axes[1]
    assert strip.get_ylabel() == name
    drawn = next(line for line in strip.lines if set(line.get_ydata()) == {0.05, 1.0})
    assert drawn.get_xdata()[-1] == 40


def test_hunting_is_seen_close(held, exceeded):
    """The drive of a lamp that hunts has a close-up of three periods in its midst."""
    hunting = exceeded.merit.hunting
    assert len(figure_of("drive", held).axes) == 2
    drive, reading = figure_of("drive", exceeded).axes[2:]
    for panel in (drive, reading):
        assert panel.get_xlim() == (0, pytest.approx(3 * hunting.period_s, abs=ONE_TICK_S))
    time_s = exceeded.trace["time_s"]
    middle = np.searchsorted(time_s, (hunting.start_s + hunting.end_s) / 2)
    assert reading.get_ylim()[0] < exceeded.trace["reading_board_c"][middle] < reading.get_ylim()[1]


def test_hunting_without_a_reading_draws(exceeded):
    """A close-up of a time without any reading still draws, with its names."""
    columns = {**exceeded.trace.columns, "reading_board_c": np.full(len(exceeded.trace), np.nan)}
    result = replace(exceeded, trace=replace(exceeded.trace, columns=columns))
    figure = figure_of("drive", result)
    assert "nan" not in svg_of(figure).lower()
    assert "reading" in words_of(figure.axes[-1])


def test_short_hunting_is_shown_whole(exceeded):
    """Hunting shorter than three periods is drawn from its start to its end, not beyond."""
    brief = replace(exceeded.merit.hunting, start_s=800.0, end_s=850.0)
    rows = close_rows(exceeded.trace["time_s"], brief)
    assert exceeded.trace["time_s"][rows[[0, -1]]].tolist() == [800.0, 850.0]


def test_a_channel_has_one_colour(held):
    """A channel is drawn in its own colour in every figure that shows it."""
    for name, stroke in channel_strokes(held).items():
        for figure in ("overview", "junctions", "drive", "light"):
            colours = {line.get_color() for p in figure_of(figure, held).axes for line in p.lines}
            assert stroke.colour in colours, (name, figure)
