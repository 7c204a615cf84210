"""The colour of a mix on the terminal, in the summary, as a figure and on the page."""

import dataclasses
import io
import json
from types import SimpleNamespace

import numpy as np
import pytest

from derate.report import files
from derate.report.colour import NOTICED, colour_figure
from derate.report.colour_words import colour_of, colour_sentence
from derate.report.figures import KINDS, kinds_of
from derate.report.point_colour import colour_rows, colour_words
from derate.report.point_summary import summary as point_summary
from derate.report.point_terminal import print_study
from derate.report.printing import COLUMNS
from derate.report.summary import to_json
from derate.report.terminal import print_result
from tests.report.invented_point import invented_study
from tests.study.colours import emitter

SAME_SCALE = 1e-6
"""Relative: sizes of panels in inches."""
WHITES = {"low_beam": (0.44, 0.40), "high_beam": (0.30, 0.31)}


@pytest.fixture(scope="module")
def coloured(held):
    """The invented run with a warm and a cool white."""
    channel = {"current_a": 0.7, "series": 1, "parallel": 1, "offsets_v": (0.0,)}
    lamp = SimpleNamespace(
        **vars(held.lamp)
        | {
            "channels": {name: SimpleNamespace(emitter=name, **channel) for name in WHITES},
            "emitters": {name: emitter(chromaticity=list(xy)) for name, xy in WHITES.items()},
            "driver": SimpleNamespace(dimming="pwm"),
        }
    )
    return dataclasses.replace(held, lamp=lamp)


def printed(result):
    """What is printed of a run, its words with one space between them."""
    out = io.StringIO()
    print_result(result, out)
    assert max(len(line) for line in out.getvalue().split("\n")) <= COLUMNS
    return " ".join(out.getvalue().split())


def test_the_sentence_tells_the_largest_shift(coloured):
    """Largest, when, mean, and the whites at that time, in one line of the table."""
    course = colour_of(coloured)
    told = colour_sentence(course)
    assert f"colour {told}" in printed(coloured)
    assert f"up to {course.largest:.4f} in u'v'" in told
    assert f"{course.white.cct_k:.0f} K" in told
    assert f"instead of {course.asked_white.cct_k:.0f} K" in told
    assert "common practice" in told


def test_a_shift_that_nobody_notices_is_called_so(coloured):
    """Below what is just noticed the sentence says less, and no white no temperature."""
    course = dataclasses.replace(colour_of(coloured), largest=0.0011, white=None)
    told = colour_sentence(course)
    assert "less than what is just noticed, 0.002" in told
    assert "instead of" not in told


def test_without_colours_nothing_is_told(held):
    """A lamp without colours has neither line nor key nor figure."""
    assert colour_of(held) is None
    assert "u'v'" not in printed(held)
    assert "colour" not in json.loads(to_json(held))
    assert kinds_of(held, None) == KINDS


def test_the_summary_has_the_numbers(coloured):
    """JSON tells largest, when and mean, and both chromaticities there."""
    course, told = colour_of(coloured), json.loads(to_json(coloured))["colour"]
    assert told["largest_delta_uv"] == course.largest
    assert told["largest_at_s"] == course.largest_s
    assert told["mean_delta_uv"] == course.mean
    at = told["at_largest"]
    found = np.hypot(*(np.array(at["uv"]) - at["asked_uv"]))
    assert found == pytest.approx(course.largest)
    assert at["white"]["cct_k"] == course.white.cct_k


def test_the_plane_shows_every_distance_alike(coloured):
    """Both axes of the plane have one scale, and hold the way, the asked mix and the circles."""
    course = colour_of(coloured)
    figure = colour_figure(coloured, course)
    over_time, plane = figure.axes
    width, height = (
        extent * size
        for extent, size in zip(plane.get_position().size, figure.get_size_inches(), strict=True)
    )
    (left, right), (low, high) = plane.get_xlim(), plane.get_ylim()
    assert (right - left) / width == pytest.approx((high - low) / height, rel=SAME_SCALE)
    way = course.uv - course.asked_uv
    assert left < min(np.nanmin(way[:, 0]), -NOTICED[-1])
    assert right > max(np.nanmax(way[:, 0]), NOTICED[-1])
    assert low < min(np.nanmin(way[:, 1]), -NOTICED[-1])
    assert high > max(np.nanmax(way[:, 1]), NOTICED[-1])
    assert over_time.get_ylim()[1] > course.largest


def test_the_report_holds_the_figure(coloured, tmp_path):
    """Files and page have the figure of the colour, after the others of every run."""
    names = {path.name for path in files.write(coloured, tmp_path / "out")}
    assert {"colour.svg", "colour.png"} <= names
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page.count("Colour of the mix") == 2
    assert 'aria-label="Distance of the mix' in page


def test_the_point_tells_colours_and_ways():
    """Both tables of an operating point stand on the terminal, every number in its place."""
    study, out = invented_study(), io.StringIO()
    print_study(study, out)
    assert max(len(line) for line in out.getvalue().split("\n")) <= COLUMNS
    told = " ".join(out.getvalue().split())
    assert "warm 0.4370 0.4040 0.2500 0.5200 3001 -0.0004" in told
    assert "mix 0.3700 0.3690 0.2212 0.4962 4231 -0.0008" in told
    assert "same share of all 2900 99.5 0.0 0.0027 90 / 90" in told
    assert "colour held 2874 98.9 0.0 0.0000 84 / 97" in told
    assert f"colour {colour_words(study.colour)}" in told


def test_the_point_tells_machines():
    """JSON has channels, mix, asked and shift, and each way with its duties; None without them."""
    study = invented_study()
    told = point_summary(study)
    assert told["colour"]["delta_uv"] == study.colour.shift
    assert told["colour"]["mix"]["white"] == {"cct_k": 4231.0, "duv": -0.0008}
    assert told["shared"][1]["duties"] == {"cool": 0.84, "warm": 0.97}
    assert point_summary(dataclasses.replace(study, colour=None))["colour"] is None


def test_a_light_that_is_no_white_has_no_temperature():
    """Dashes stand where a colour has neither colour temperature nor Duv."""
    study = invented_study()
    red = dataclasses.replace(study.colour.mix, white=None)
    rows = colour_rows(dataclasses.replace(study.colour, channels={"red": red}))
    assert rows[0][-2:] == ("-", "-")
    assert [row[0] for row in rows] == ["red", "mix", "asked"]
