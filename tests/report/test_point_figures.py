"""The figures of the operating point: what they show, and that they show it every time."""

import itertools
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest

from derate.report.figures import png_of, svg_of
from derate.report.point_board import near
from derate.report.point_derating import shown_c, stretches, with_corners
from derate.report.point_figures import KINDS, kinds_of
from derate.report.point_helps import groups_of, what_if_bars
from derate.report.point_impedance import decade
from derate.report.point_path import treads_c
from derate.report.point_plan import covered
from derate.report.words import figures
from tests.report.invented_point import (
    AMBIENT_C,
    LIMIT_C,
    NAN,
    hot_study,
    invented_study,
    printed_board,
    runaway_study,
)

STUDY = invented_study()
KIND = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
MOST_BYTES = 300_000
ROUNDING = 1e-9


def drawn(name, study=STUDY):
    """One figure by its name."""
    return next(kind for kind in KINDS if kind.name == name).draw(study)


def words_in(figure):
    """Every text of a figure, annotations included."""
    return [text.get_text() for panel in figure.axes for text in panel.texts]


@KIND
def test_drawn_twice_is_the_same(kind):
    """The same study gives the same SVG and PNG, well-formed and of moderate size."""
    svg = svg_of(kind.draw(STUDY))
    assert svg == svg_of(kind.draw(STUDY))
    ElementTree.fromstring(svg)
    assert len(svg) < MOST_BYTES
    assert png_of(kind.draw(STUDY)) == png_of(kind.draw(STUDY))


@KIND
def test_words_beside_the_figure(kind):
    """A caption that says where to look, and a description with figures."""
    assert len(kind.caption) > 40
    assert re.search(r"\d", kind.alt(STUDY))


@KIND
def test_quantities_carry_units(kind):
    """Somewhere along the panels stands a unit in brackets, or it stands at every figure."""
    figure = kind.draw(STUDY)
    told = words_in(figure) + [panel.get_ylabel() for panel in figure.axes]
    told += [panel.get_xlabel() for panel in figure.axes]
    assert re.search(r"\[(K|K/W|mm|%|lm|Pa|\N{DEGREE SIGN}C)\]", " ".join(told))


def test_only_what_there_is_is_shown():
    """A runaway has no path and no map, a lamp without a board no plan, and all others stay."""
    names = {kind.name for kind in KINDS}
    assert {kind.name for kind in kinds_of(STUDY)} == names
    assert {kind.name for kind in kinds_of(hot_study())} == names - {"board", "places"}
    unblown = replace(STUDY, surfaces=STUDY.surfaces[1:])
    assert {kind.name for kind in kinds_of(unblown)} == names - {"fan"}
    lost = {kind.name for kind in kinds_of(runaway_study())}
    assert lost == names - {"path", "fan", "helps", "impedance", "board", "places"}


def test_what_is_asked_is_marked_below_full_drive():
    """At a request of 60 % a square stands at it in both figures; at full drive there is none."""
    dimmed = replace(
        STUDY,
        requests=dict.fromkeys(STUDY.requests, 0.6),
        power=replace(STUDY.power, light_lm=1900.0),
    )
    due = {"derating": [(AMBIENT_C, 60.0), (AMBIENT_C, 1900.0)], "light": [(60.0, 1900.0)]}
    for name, places in due.items():
        assert squares(drawn(name, dimmed)) == places
        assert squares(drawn(name)) == []
        assert "asked 1900 lm" in words_in(drawn(name, dimmed))


def squares(figure):
    """Where squares stand."""
    lines = [line for panel in figure.axes for line in panel.lines if line.get_marker() == "s"]
    return [(line.get_xdata()[0], line.get_ydata()[0]) for line in lines]


def test_the_fan_works_at_the_ring():
    """The ring stands where the study says, both curves are there, and words tell flow and Pa."""
    (panel,) = drawn("fan").axes
    fan = STUDY.surfaces[0].fan
    rings = [line for line in panel.lines if line.get_marker() == "o"]
    at = (3600.0 * fan.at_m3_per_s, fan.at_pa)
    assert [(*ring.get_xdata(), *ring.get_ydata()) for ring in rings] == [at]
    curves = [line for line in panel.lines if len(line.get_xdata()) > 2]
    assert len(curves) == 2
    assert "works at 9.00 m3/h, 12.0 Pa" in words_in(panel.figure)


def test_impedances_have_logarithmic_axes():
    """Both axes go by decades, so that short times and small rises show."""
    for panel in drawn("impedance").axes:
        assert (panel.get_xscale(), panel.get_yscale()) == ("log", "log")


def test_stairs_tell_kelvin_per_watt():
    """Beside every step stands its drop over the watts that pass."""
    told = words_in(drawn("path"))
    assert "K/W" in told
    for step in STUDY.paths[0].steps:
        assert figures(step.drop_k / step.heat_w) in told


def test_stairs_end_in_the_ambient():
    """The treads fall from the junction to the ambient without a gap."""
    for path in STUDY.paths:
        celsius = treads_c(path, AMBIENT_C)
        assert celsius[-1] == pytest.approx(AMBIENT_C, abs=ROUNDING)
        assert all(a > b for a, b in itertools.pairwise(celsius))


def test_the_largest_drop_is_dark():
    """One bar of each stair is solid, and it is the longest."""
    for panel in drawn("path").axes:
        bars = [patch for patch in panel.patches if patch.get_height() < 1]
        solid = [bar for bar in bars if bar.get_alpha() == 1.0]
        assert len(solid) == 1
        assert abs(solid[0].get_width()) == max(abs(bar.get_width()) for bar in bars)


def test_stretches_cover_the_curve():
    """Stretches of what acts meet each other, from the first ambient to the last."""
    curve = STUDY.derating
    found = stretches(curve)
    assert found[0].start_c == curve.ambient_c[0]
    assert found[-1].end_c == curve.ambient_c[-1]
    assert all(a.end_c == b.start_c for a, b in itertools.pairwise(found))
    assert [one.acting for one in found][:2] == ["", "sink"]
    for at_c, acting in zip(curve.ambient_c, curve.acting, strict=True):
        assert any(s.acting == acting and s.start_c <= at_c <= s.end_c for s in found)


def test_corners_are_on_the_curve():
    """The end of full drive and the first dark ambient are drawn where they are."""
    across_c, permitted = with_corners(STUDY.derating)
    assert np.all(np.diff(across_c) >= 0)
    assert permitted[across_c == 39.0].tolist() == [1.0]
    assert 0.0 in permitted[across_c == 85.0]
    none = replace(STUDY.derating, full_until_c=NAN, dark_from_c=NAN)
    assert len(with_corners(none)[0]) == len(none.ambient_c)


def test_the_present_ambient_is_always_shown():
    """A point beyond the curve's end is within the axis."""
    assert shown_c(STUDY.derating, 120.0)[1] == 120.0
    assert shown_c(STUDY.derating, -60.0)[0] == -60.0
    assert shown_c(STUDY.derating, 35.0)[1] < STUDY.derating.ambient_c[-1]


def test_the_ring_is_at_this_point():
    """Derating figure: the ring stands at the ambient and at what is permitted there."""
    study = hot_study()
    for panel, height in zip(
        drawn("derating", study).axes, (76.0, study.derating.here_lm), strict=True
    ):
        rings = [line for line in panel.lines if line.get_marker() == "o"]
        assert rings[0].get_xydata()[0].tolist() == pytest.approx([50.0, height])
    assert any(
        "50 \N{DEGREE SIGN}C: permitted 76 %" in t for t in words_in(drawn("derating", study))
    )


def test_rings_where_limits_are_met():
    """Threshold figure: a ring for each channel at the limit, the lowest reading in words."""
    panel = drawn("threshold").axes[0]
    rings = [line.get_xydata()[0] for line in panel.lines if line.get_marker() == "o"]
    assert sorted(at[0] for at in rings) == [LIMIT_C - 26.3, LIMIT_C - 22.0]
    assert all(at[1] == LIMIT_C for at in rings)
    words = words_in(drawn("threshold"))
    assert any("88.7 \N{DEGREE SIGN}C: cool at its limit" in text for text in words)
    assert {"start 76", "end 92", "cut-off 100"} <= set(words)


def test_control_that_hunts_has_no_place():
    """The square of the control's rest is drawn only where it settles."""
    squares = [line for line in drawn("threshold").axes[0].lines if line.get_marker() == "s"]
    assert squares[0].get_xydata()[0].tolist() == [77.0, 100.6]
    restless = replace(STUDY, settled=replace(STUDY.settled, settles=False))
    panel = drawn("threshold", restless).axes[0]
    assert not [line for line in panel.lines if line.get_marker() == "s"]


def test_cooler_is_to_the_right():
    """Bars: a cooler place to the right, a warmer one to the left, one without rest nowhere."""
    by_name = {bar.name: bar for bar in what_if_bars(STUDY)}
    assert by_name["surface fins 25 % larger"].cooler_k == 6.1
    assert by_name["a second emitter on each pad"].cooler_k == -1.4
    assert all(bar.cooler_k > 0 for group in groups_of(STUDY)[:2] for bar in group.bars)
    lost = replace(STUDY.what_ifs[0], limiting_k=NAN, light_lm=NAN, permitted_lm=NAN)
    (bar,) = what_if_bars(replace(STUDY, what_ifs=(lost,)))
    assert (bar.cooler_k, bar.figure) == (0.0, "no rest")


def test_most_light_is_ringed():
    """Light figure: rings at the most light and at what is permitted; the axis tells a mix."""
    panel = drawn("light").axes[0]
    rings = [line.get_xydata()[0].tolist() for line in panel.lines if line.get_marker() == "o"]
    assert [131.0, STUDY.best.most_lm] in [pytest.approx(ring) for ring in rings]
    assert len(rings) == 2
    mixed = replace(STUDY.derating, mix={"cool": 1.0, "warm": 0.3})
    figure = drawn("light", replace(STUDY, derating=mixed))
    assert len([line for line in figure.axes[0].lines if line.get_marker() == "o"]) == 2
    assert "100 % stands for cool 100 %, warm 30 % of" in figure.axes[1].get_xlabel()


def test_the_axis_ends_where_rests_end():
    """Where greater commands have no rest the axis is not stretched over them."""
    few = STUDY.best.command < 0.1
    best = replace(
        STUDY.best,
        command=STUDY.best.command[few],
        light_lm=STUDY.best.light_lm[few],
        junction_c=STUDY.best.junction_c[few],
        most_at=0.08,
    )
    assert drawn("light").axes[0].get_xlim() == (0.0, 150.0)
    assert drawn("light", replace(STUDY, best=best)).axes[0].get_xlim()[1] < 20.0


@pytest.mark.parametrize(
    ("time_s", "told"),
    [(1e-5, "10 \N{MICRO SIGN}s"), (1e-3, "1 ms"), (0.1, "0.1 s"), (10.0, "10 s")],
)
def test_decades_in_words(time_s, told):
    """Powers of ten of a second are told in the unit one would use."""
    assert decade(time_s) == told


def test_impedances_end_at_rest():
    """Each line ends at the last value of the study, written at its end."""
    words = words_in(drawn("impedance"))
    assert "ambient 9.60" in words
    assert "solder 5.10" in words


def test_a_field_is_spread_to_the_edge():
    """Where the field has no value the nearest one stands; values stay as they are."""
    field = np.array([[1.0, np.nan, np.nan], [np.nan, np.nan, 5.0]])
    found = covered(field)
    assert np.all(np.isfinite(found))
    assert found[0, 0] == 1.0
    assert found[1, 2] == 5.0
    assert found[1, 0] == 1.0
    assert found[0, 2] == 5.0


def test_the_map_names_the_hottest_place():
    """The hottest temperature of the board stands on its plan, and the sensors do."""
    hottest_c = np.nanmax(STUDY.board.field.temperature_c)
    words = words_in(drawn("board"))
    assert f"{hottest_c:.1f} \N{DEGREE SIGN}C" in words
    assert "ntc" in words


def test_the_advice_is_on_both_maps():
    """Sensor maps tell offset and lag at the advised place, and those of the present sensor."""
    places = STUDY.board.places
    words = words_in(drawn("places"))
    assert any(text.endswith("advised 18.4 K") for text in words)
    assert any(text.endswith("advised 3.90 s") for text in words)
    offset_k = near(places, places.offset_k, (0.02, 0.03))
    assert any(text.endswith(f"ntc {offset_k:.1f} K") for text in words)


def test_round_boards_and_many_channels_are_drawn():
    """A round board, an outline, and more channels than there is room for give figures too."""
    for shape in (
        {"diameter_m": 0.1},
        {"outline_m": ((0.0, 0.0), (0.1, 0.0), (0.05, 0.06))},
    ):
        study = invented_study()
        study.lamp.board = printed_board(**shape)
        assert len(drawn("board", study).axes) == 1
    many = tuple(replace(STUDY.channels[0], name=f"c{n}", margin_k=float(n)) for n in range(7))
    paths = tuple(replace(STUDY.paths[0], channel=one.name) for one in many)
    study = replace(STUDY, channels=many, paths=paths, requests={c.name: 1.0 for c in many})
    assert len(drawn("path", study).axes) == 4


def test_two_sensors_have_a_panel_each():
    """Each sensor has its own relation, named on its axis."""
    two = (STUDY.thresholds[0], replace(STUDY.thresholds[0], sensor="sink_ntc"))
    names = [
        panel.get_xlabel() for panel in drawn("threshold", replace(STUDY, thresholds=two)).axes
    ]
    assert [name.split(" [")[0] for name in names] == ["reading of ntc", "reading of sink_ntc"]
