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
from derate.report.table_error import errors
from derate.report.table_figures import KINDS
from derate.report.table_files import write_firmware, write_report
from derate.report.table_resolution import others
from derate.report.table_summary import to_json
from derate.report.table_terminal import print_study
from derate.report.table_words import alternatives, hint, rows, verdict
from derate.sensing.bare import table
from derate.sensing.contribution import Situation
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
        "K error at worst from 40 to 100 degC",
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
    best = study.candidates[0]
    assert not best.present
    assert "would be finer" in hint(study)
    assert f"{best.open_margin_codes} codes to open" in hint(study)


def test_a_finer_resistor_that_errs_more_is_told(study):
    """Finer steps are not sold as better readings where the whole error grows."""
    best, *rest = study.candidates
    worse = best._replace(worst_error_k=10.0)
    assert hint(replace(study, candidates=(worse, *rest))).endswith("would be finer but err more")
    better = best._replace(worst_error_k=0.01)
    assert hint(replace(study, candidates=(better, *rest))).endswith("would be finer")


def test_other_resistors_are_usable(study):
    """Those drawn beside the present one can be used, and the best is among them."""
    found = others(study.candidates)
    assert all(one.refused is None and not one.present for one in found)
    assert study.candidates[0] in found


def test_the_error_figure_shows_the_bound(study):
    """The largest error over the range is the one the table states."""
    _, error_k = errors(study.table, study.circuit, study.range_c)
    assert abs(np.max(np.abs(error_k)) - study.table.error_k) < ROUNDING_K


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
    written = {path.name for path in write_report(study, tmp_path)}
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
    for due in (*CAUTIONS, "ntc_reading.h", f"code <= {study.threshold.code}"):
        assert due in words


def test_json_without_nan(study):
    """One document in plain numbers that says the same as the terminal."""
    document = json.loads(to_json(study))
    assert "NaN" not in to_json(study)
    assert document["verdict"] == verdict(study)
    assert document["table"]["bytes"] == study.table.bytes
    assert document["threshold"]["code"] == study.threshold.code
    assert len(document["resistors"]) == len(study.candidates)


def test_the_firmware_files(study, tmp_path):
    """C, self-test, CSV and JSON; written twice they are the same bytes."""
    first = {path.name: path.read_bytes() for path in write_firmware(study, tmp_path)}
    names = ("ntc_reading.h", "ntc_reading.c", "ntc_reading_test.c")
    assert set(first) == {*names, "ntc_reading.csv", "ntc_reading.json"}
    assert first == {path.name: path.read_bytes() for path in write_firmware(study, tmp_path)}
    head = first["ntc_reading.c"].decode().split("*/")[0]
    for due in (
        "Chain: 10 kohm",
        "Error: at most 0.",
        "Open: codes",
        "Threshold: 85 degC",
        "fires",
    ):
        assert due in head
