"""The reading study at the terminal, as figures, as a page and as files."""

import io
import json
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest

from derate.report.figures import png_of, svg_of
from derate.report.page import CAUTIONS
from derate.report.table_budget import shares
from derate.report.table_error import corners, errors
from derate.report.table_figures import KINDS
from derate.report.table_files import firmware_files, report_files, write
from derate.report.table_resolution import others
from derate.report.table_summary import to_json
from derate.report.table_terminal import print_study
from derate.report.table_words import alternatives, hint, rows, saturated, verdict
from derate.sensing.bare import table
from derate.sensing.contribution import Situation
from derate.sensing.description import fit_words
from tests.report.test_page import Reader

SENSOR = {
    "thermistor": {"b_value": 3950.0, "resistance_25": 10e3, "range": [-20.0, 110.0]},
    "divider": {
        "arrangement": "pull-up",
        "resistor": 10e3,
        "supply": 3.3,
        "reference": "ratiometric",
    },
    "adc": {"bits": 12, "offset": 2.0, "inl": 1.5, "noise": 0.5},
    "tolerance": {"resistor": 0.01, "r25": 0.01, "b_value": 0.01},
    "resistance": 100.0,
    "capacitance": 0.05,
    "disturbance": {"ground": 1e-3},
}
"""An invented sensor."""
UNIT = re.compile(r"\[(K|mK|bytes|-)\]")
KIND = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
MOST_BYTES = 250_000
ROUNDING_K = 1e-9
ROUNDED_K = 0.0005
"""Residuals are told to three figures."""
COLUMNS = 80


@pytest.fixture(scope="module")
def study():
    """A study of the invented sensor with everything asked for."""
    return table(
        SENSOR,
        max_error=0.1,
        threshold=85.0,
        interest=(40.0, 100.0),
        situation=Situation(current_a=2.0, ramp_k_per_s=0.2),
    )


@pytest.fixture(scope="module")
def printed(study):
    """What stands on the terminal."""
    out = io.StringIO()
    print_study(study, out)
    return out.getvalue()


def test_the_terminal_fits_80_columns(printed):
    """No line is wider, and the verdict is last."""
    assert max(map(len, printed.split("\n"))) <= COLUMNS
    assert printed.rstrip().split("\n\n")[-1].startswith("Reads ")


def test_the_terminal_says_what_was_asked(study, printed):
    """Chain, table, faults, threshold with direction and trip band, resistor."""
    limit = study.threshold
    words = " ".join(printed.split())
    for due in (
        "pull-up 10 kohm",
        f"{study.table.bytes} bytes",
        f"codes from {study.table.window.high_code} on",
        f"too hot when code <= {limit.code}",
        f"units trip between {limit.low_c:.1f} and {limit.high_c:.1f} degC",
        "K off at worst from 40 to 100 degC",
        "told for air of 25 degC, full LED current of 2 A, ramp 0.2 K/s",
        f"or code >= {limit.open_code} (open)",
    ):
        assert due in words


def test_causes_come_largest_first(study):
    """At every temperature told, the causes fall in size and add up to no less than either sum."""
    found = rows(study)
    assert [row.celsius for row in found] == sorted({row.celsius for row in found})
    for row in found:
        sizes = [size_k for _, size_k in row.causes]
        assert sizes == sorted(sizes, reverse=True)
        assert sum(sizes) + ROUNDING_K >= max(-row.worst_low_k, row.worst_high_k)


def test_shares_leave_nothing_out(study):
    """The layers of the picture add up to the worst sums where no cause has a bias."""
    found = shares(study.budget)
    high_k = np.sum([share.high_k for share in found], axis=0)
    upper_k = np.sum([np.maximum(p.worst_high_k, 0) for p in study.budget.contributions], axis=0)
    np.testing.assert_allclose(high_k, upper_k, atol=ROUNDING_K)
    assert np.all(high_k >= study.budget.worst_high_k - ROUNDING_K)


def test_alternatives_are_no_worse(study):
    """Each other kind at most once, within the error asked for."""
    found = alternatives(study)
    kinds = [other.kind for other in found]
    assert kinds, "each kind keeps to 0.1 K"
    assert len(kinds) == len(set(kinds))
    assert study.table.kind not in kinds
    assert all(other.error_k <= study.wanted.max_error_k for other in found)


def test_the_hint_compares_with_the_best(study):
    """A resistor clearly finer over the range of interest is named with its margins."""
    best = study.best_by_resolution
    assert not best.present
    assert "would be finer" in hint(study)
    assert f"{best.open_margin_codes} codes to open" in hint(study)


def with_errors(study, errors_k):
    """The study with other errors [K] of the best by resolution, the present and all others."""
    finest = study.best_by_resolution.resistor_ohm
    names = {finest: "finest", study.present.resistor_ohm: "present"}
    judged = [
        one._replace(worst_error_k=errors_k[names.get(one.resistor_ohm, "others")])
        for one in study.candidates
        if one.refused is None
    ]
    return replace(study, candidates=tuple(judged))


def test_the_resistor_best_by_error_is_told_when_it_counts(study):
    """It is named when it errs more than a tenth less than the present one, and only then."""
    told = hint(with_errors(study, {"finest": 2.0, "present": 2.0, "others": 1.7}))
    assert "would be finer" in told
    assert "would err least" in told
    told = hint(with_errors(study, {"finest": 2.0, "present": 2.0, "others": 1.9}))
    assert "err least" not in told
    told = hint(with_errors(study, {"finest": 1.0, "present": 2.0, "others": 2.0}))
    assert told.endswith("would be finer and err least")


def test_a_finer_resistor_that_errs_more_is_told(study):
    """Finer steps are not sold as better readings where the whole error grows."""
    told = hint(with_errors(study, {"finest": 10.0, "present": 2.0, "others": 2.0}))
    assert told.endswith("would be finer but err more")


def test_other_resistors_are_usable(study):
    """Those drawn beside the present one can be used, and the best is among them."""
    found = others(study.candidates)
    assert all(one.refused is None and not one.present for one in found)
    assert study.candidates[0] in found


def test_the_error_figure_shows_the_bound(study):
    """The largest error over the range is the one the table states."""
    _, error_k = errors(study.table, study.circuit, study.range_c)
    assert abs(np.max(np.abs(error_k)) - study.table.error_k) < ROUNDING_K


def test_rows_at_the_ends_are_saturated(study, printed):
    """Where the table holds its last value the units' error is cut off, and no number is told."""
    cut = saturated(study)
    assert cut[0]
    assert cut[-1]
    assert not np.any(cut[2:-2])
    assert printed.count("saturated") == sum(row.saturated for row in rows(study)) > 0
    assert json.loads(to_json(study))["budget"]["saturated"] == cut.tolist()


def test_verdict_and_hint_use_one_measure(study):
    """Judged over the working range, the present resistor is off as far as the verdict says."""
    whole = replace(study, wanted=replace(study.wanted, interest_c=None))
    low_k, high_k = whole.at_worst_k
    assert f"Reads {low_k:+.1f} to {high_k:+.1f} K off at worst" in verdict(whole)
    worst_k = max(-study.budget.at_worst_low_k.min(), study.budget.at_worst_high_k.max())
    assert max(-low_k, high_k) == worst_k


@pytest.mark.parametrize("kind", ["placed knots", "temperature steps", "code steps"])
def test_corners_are_where_the_slope_changes(kind, study):
    """Ticks lie within the codes, one more than there are segments, at readings of the table."""
    made = next(table for table in study.tables if table.kind == kind)
    found = corners(made)
    assert len(found) == made.segments + 1
    assert np.all(np.diff(found) > 0)
    healthy = found[(found > made.window.low_code) & (found < made.window.high_code)]
    assert len(healthy) >= len(found) - 2


def test_words_on_fault_windows_stand_above_the_lines(study):
    """What is taken for open or short is told above the panel, where no line can be."""
    panel = next(kind for kind in KINDS if kind.name == "resolution").draw(study).axes[0]
    top = panel.get_ylim()[1]
    told = [text for text in panel.texts if text.get_text().startswith("taken for")]
    assert told
    assert all(text.xy[1] == top and text.get_va() == "bottom" for text in told)
    assert all(np.nanmax(line.get_ydata()) < top for line in panel.lines[:4])


@KIND
def test_axes_carry_units(kind, study):
    """Each panel names quantity and unit."""
    for panel in kind.draw(study).axes:
        if panel.get_ylabel():
            assert UNIT.search(panel.get_ylabel()), panel.get_ylabel()
    assert "[" in kind.draw(study).axes[-1 if kind.name != "error" else 0].get_xlabel()


@KIND
def test_drawn_twice_is_the_same(kind, study):
    """The same study gives the same SVG and PNG, well-formed and of moderate size."""
    svg = svg_of(kind.draw(study))
    assert svg == svg_of(kind.draw(study))
    ElementTree.fromstring(svg)
    assert len(svg) < MOST_BYTES
    assert png_of(kind.draw(study)) == png_of(kind.draw(study))


@KIND
def test_words_beside_the_figure(kind, study):
    """A caption that says where to look, and a description with figures."""
    assert len(kind.caption) > 40
    assert re.search(r"\d", kind.alt(study))


def test_the_ring_is_at_the_chosen_table(study):
    """The trade picture marks the chosen table in both panels."""
    figure = next(kind for kind in KINDS if kind.name == "trade").draw(study)
    for panel, size in zip(figure.axes, (study.table.bytes, study.table.operations), strict=True):
        rings = [line for line in panel.lines if line.get_markersize() > 10]
        assert rings[0].get_xydata().tolist() == [[study.table.error_k, size]]


def test_the_page_is_whole(study, tmp_path):
    """The page loads nothing, closes its tags, and holds every figure and the verdict."""
    written = {path.name for path in write(report_files(study), tmp_path)}
    assert {"table.html", "summary.json", "budget.svg", "trade.png"} <= written
    text = (tmp_path / "table.html").read_text(encoding="utf-8")
    reader = Reader(text)
    assert reader.open == []
    assert reader.tags.count("svg") == len(KINDS)
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(reader.tags)
    assert all(value.startswith("#") for value in reader.loads)
    assert len(reader.ids) == len(set(reader.ids))
    words = " ".join(
        "".join(Reader(re.sub(r"<(style|svg).*?</\1>", "", text, flags=re.S)).text).split()
    )
    assert not re.search(r"\b(nan|None|Undefined|inf)\b", words)
    for due in (*CAUTIONS, "ntc_reading.h", f"code <= {study.threshold.code}, or code >="):
        assert due in words


def test_json_without_nan(study):
    """One document in plain numbers that says the same as the terminal."""
    document = json.loads(to_json(study))
    assert "NaN" not in to_json(study)
    assert document["verdict"] == verdict(study)
    assert document["table"]["bytes"] == study.table.bytes
    assert document["threshold"]["code"] == study.threshold.code
    assert len(document["resistors"]) == len(study.candidates)


def test_the_firmware_files(study):
    """C, self-test, CSV and JSON; written twice they are the same bytes."""
    first = firmware_files(study)
    names = ("ntc_reading.h", "ntc_reading.c", "ntc_reading_test.c")
    assert set(first) == {*names, "ntc_reading.csv", "ntc_reading.json"}
    assert first == firmware_files(study)
    head = first["ntc_reading.c"].decode().split("*/")[0]
    for due in (
        "Chain: 10 kohm",
        "Error: at most 0.",
        "Open: codes",
        "Threshold: 85 degC",
        "fires",
        "Situation: air of 25 degC",
    ):
        assert due in head
    assert b"ntc_too_hot(uint16_t code)" in first["ntc_reading.h"]


POINTS = (["0 degC", "32650 ohm"], ["50 degC", "3602 ohm"], ["100 degC", "679 ohm"])
"""Invented points of a part near B 3950 K."""


def test_the_fit_is_told_with_its_residuals():
    """Points give a row on the fit and every residual in the JSON; a B value gives neither."""
    points = [*POINTS, ["25 degC", "10.3 kohm"]]
    thermistor = {"points": points, "model": "steinhart-hart", "range": ["0 degC", "100 degC"]}
    fitted = table(SENSOR | {"thermistor": thermistor}, max_error=0.1)
    out = io.StringIO()
    print_study(fitted, out)
    told = re.search(r"fit +Steinhart-Hart from 4 points, at most ([\d.]+) K\s+off", out.getvalue())
    residual_k = json.loads(to_json(fitted))["fit"]["residual_k"]
    assert len(residual_k) == 4
    assert float(told.group(1)) == pytest.approx(max(map(abs, residual_k)), abs=ROUNDED_K)
    exact = table(SENSOR | {"thermistor": thermistor | {"points": POINTS}}, max_error=0.1)
    assert fit_words(exact.sensor) == "Steinhart-Hart through 3 points"


def test_a_part_without_points_has_no_fit(study):
    """Where nothing was fitted nothing is said of a fit."""
    assert json.loads(to_json(study))["fit"] is None
    assert fit_words(study.sensor) == ""
