"""The table for people."""

import io
from dataclasses import replace

import pytest

from derate.report.figures import KINDS
from derate.report.page import page
from derate.report.printing import COLUMNS
from derate.report.terminal import print_result
from derate.report.verdict import verdict


@pytest.mark.parametrize("which", ["held", "exceeded"])
def test_it_fits_and_ends_with_the_verdict(which, request):
    """No line is longer than 80 columns, no control codes, and the verdict comes last."""
    result = request.getfixturevalue(which)
    out = io.StringIO()
    print_result(result, out)
    text = out.getvalue()
    lines = text.rstrip("\n").split("\n")
    assert max(len(line) for line in lines) <= COLUMNS
    assert "\x1b" not in text
    assert " ".join(text.split("\n\n")[-1].split()) == verdict(result)
    for name in (*result.merit.channels, *result.merit.nodes):
        assert any(line.split()[:1] == [name] for line in lines)


def test_hunting_is_told(exceeded):
    """A lamp that hunts says so with cause and cure."""
    out = io.StringIO()
    print_result(exceeded, out)
    words = " ".join(out.getvalue().split())
    assert "hunting every 38 s from 11 min 40 s to 25 min" in words
    assert "Least hysteresis that stops it: 3.2 K." in words


def test_long_names_give_way_to_numbers(held):
    """However long names are, neither they nor numbers are cut, and lines fit."""
    names = [f"a_channel_with_a_very_long_name_{i}" for i in range(2)]
    large = replace(
        held.merit.channels["low_beam"],
        peak_at_s=3573.0,
        above_limit_s=19920.0,
        margin_k=-100.0,
        light_lm_h=12345.6,
    )
    sensors = {"a_sensor_of_some_long_name": held.merit.sensors["board"]}
    merit = replace(held.merit, channels=dict.fromkeys(names, large), sensors=sensors)
    lamp = type(held.lamp)(name="Lamp " * 30, controller=held.lamp.controller, channels={})
    columns = dict(held.trace.columns)
    for name in names:
        columns[f"junction_{name}_c"] = columns["junction_low_beam_c"]
    trace = replace(held.trace, columns=columns)
    out = io.StringIO()
    print_result(replace(held, lamp=lamp, merit=merit, trace=trace), out)
    text = out.getvalue()
    assert max(len(line) for line in text.split("\n")) <= COLUMNS
    for number in ("113.9", "59 min 33 s", "125.0", "-100.0", "5 h 32 min", "12346", "87.0 %"):
        assert text.count(number) >= len(names), number
    first_column = "".join(line.strip().split("  ")[0] for line in text.split("\n"))
    assert all(name in first_column for name in names)


def test_a_sensor_that_is_never_healthy(held):
    """Where a sensor gave no reading all along, terminal, page and figure say so."""
    nan = float("nan")
    dead = replace(
        held.merit.sensors["board"],
        worst_low_k=nan,
        worst_high_k=nan,
        rms_k=nan,
        behind_junction_k=nan,
    )
    result = replace(held, merit=replace(held.merit, sensors={"board": dead}))
    out = io.StringIO()
    print_result(result, out)
    assert "sensing board  no healthy reading" in out.getvalue()
    assert "nan" not in out.getvalue()
    alt = next(kind.alt(result) for kind in KINDS if kind.name == "sensing")
    assert "board gives no healthy reading" in alt
    drawings = dict.fromkeys((kind.name for kind in KINDS), "")
    row = "<td>board</td><td>-</td><td>-</td><td>-</td><td>-</td>"
    assert row in page(result, drawings)
