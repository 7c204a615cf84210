"""The starter lamp called its healthy sensor stuck when one dim channel warmed a larger sink.

Cause: it asked for 2 K in 120 s, which the spot alone at half light just gave, and counted the
time of short flashes together for ever.
"""

import pytest

from derate.control.command import STUCK
from derate.lamp import load, starter_text
from derate.loop.run import run

EVENING = 'request = { spot = 0.8, flood = { at = ["0 s", "90 s"], value = [1.0, 0.1], every = "240 s" } }'  # noqa: E501
HALF = "request = { spot = 0.5 }"
FLASHES = 'request = { spot = { at = ["0 s", "0.5 s"], value = [1.0, 0.0], every = "2 s" } }'


@pytest.mark.parametrize(("request_line", "sink"), [(HALF, "60 J/K"), (FLASHES, "45 J/K")])
def test_a_healthy_starter_lamp_is_not_called_stuck(request_line, sink, tmp_path):
    """Half light of the spot on a larger sink, and flashes of it, raise no alarm."""
    text = starter_text().replace(EVENING, request_line, 1).replace('"45 J/K"', f'"{sink}"')
    text = text.replace('"30 min"', '"10 min"', 1)
    assert request_line in text
    path = tmp_path / "lamp.toml"
    path.write_text(text, encoding="utf-8")
    result = run(load(path), "evening")
    assert not any(int(status) & STUCK for status in result.trace["status"])
