"""The table for people."""

import io

import pytest

from derate.report.terminal import COLUMNS, print_result
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
