"""Every figure: panels with units, lines, and the same bytes each time."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from derate.report.figures import KINDS, inlined, png_of, svg_of

UNIT = re.compile(r"\[(°C|K|%|% of full|lm|s|min|h)\]")
MOST_BYTES = 250_000
"""Six such figures make a page that any mail program takes."""
KIND = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


@KIND
@pytest.mark.parametrize("which", ["held", "exceeded"])
def test_axes_carry_units(kind, which, request):
    """Each figure is a Figure whose panels all name quantity and unit, and time once."""
    figure = kind.draw(request.getfixturevalue(which))
    assert isinstance(figure, Figure)
    for panel in figure.axes:
        assert UNIT.search(panel.get_ylabel()), panel.get_ylabel()
        assert panel.lines
    assert figure.axes[-1].get_xlabel() == "time [min]"


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
