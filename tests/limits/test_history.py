"""Histories become the profiles that files hold, and the words that a person would use."""

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.lamp import load_profile
from derate.limits.history import Fault, History, Piece, profile_from, profile_keys
from derate.limits.optimise import Scale
from derate.limits.space import space_of
from derate.limits.strategies import histories
from derate.limits.telling import history_words, told
from tests.limits.lamps import late_lamp
from tests.loop.lamps import spot

LAMP = late_lamp()
SPACE = space_of(LAMP, faults=("sensor open", "sensor stuck"))
BURST = History((Piece(720.0, (1.0,), 1.0), Piece(40.0, (0.0,), 1.0), Piece(60.0, (1.0,), 1.0)))


def _profile(history, ambient_c=40.0):
    return profile_from(profile_keys(history, LAMP, {"ambient": ambient_c}))


def test_a_history_is_told_in_one_line():
    """Ambient, then piece by piece; the last one without its length; faults at the end."""
    assert told(_profile(BURST), LAMP) == "ambient 40 degC, 12 min at full, 40 s off, full"
    broken = History(BURST.pieces[:1], (Fault("sensor open", "ntc", 60.0, 90.0),))
    words = "ambient 40 degC, full, sensor open (ntc) from 1 min to 1 min 30 s"
    assert told(_profile(broken), LAMP) == words


def test_teeth_are_counted():
    """What takes turns is told once, with how often; channels apart by their names."""
    tooth = (Piece(10.0, (1.0, 0.3), 1.0), Piece(5.0, (0.0, 0.0), 1.0))
    words = history_words(History(tooth * 3 + tooth[:1]), ("low", "high"), air=False)
    assert words == ["3 times 10 s at low full and high 30 % and 5 s off", "low full and high 30 %"]


def test_a_ramp_is_not_told_piece_by_piece():
    """A profile along a line is no history of pieces, and is told by its length."""
    raw = spot()["profiles"]["on"] | {
        "request": {"spot": {"at": [0.0, 9.0], "value": [0.0, 1.0], "between": "line"}}
    }
    profile = type(_profile(BURST)).model_validate(raw)
    assert told(profile, LAMP) == "a profile of 2 min"


def test_the_file_is_the_profile(tmp_path):
    """What is written reads back as the very profile that was run, digits and all."""
    history = History(BURST.pieces, (Fault("sensor open", "ntc", 60.0),))
    ambient_c = {"ambient": 31.0 - 1.0 / 3.0}
    (tmp_path / "found.toml").write_text(tomli_w.dumps(profile_keys(history, LAMP, ambient_c)))
    read = load_profile(tmp_path / "found.toml", LAMP)
    assert read.model_dump() == _profile(history, ambient_c["ambient"]).model_dump()


@given(histories(SPACE), st.floats(1.0, 900.0))
@settings(max_examples=30)
def test_cutting_keeps_what_was_before(history, end_s):
    """A history cut off asks for the same until then, and ends there."""
    cut = history.until(end_s)
    assert cut.duration_s == pytest.approx(min(end_s, history.duration_s))
    for begin_s, piece in zip(cut.begins_s, cut.pieces, strict=True):
        assert piece.requests == history.pieces[list(history.begins_s).index(begin_s)].requests


@given(histories(SPACE))
@settings(max_examples=30)
def test_histories_of_a_space_are_profiles(history):
    """What is drawn lies within the space, and is a profile that the lamp can live through."""
    assert 0.0 < history.duration_s <= SPACE.duration_s
    assert _profile(history).duration_s == pytest.approx(history.duration_s)


@given(histories(SPACE, most_pieces=4))
@settings(max_examples=30)
def test_the_optimiser_begins_where_it_is_told(history):
    """A known history comes back from its point of the cube: its requests, its last lengths."""
    scale = Scale(SPACE)
    again = scale.history(scale.point(history))
    for mine, other in zip(reversed(history.pieces), reversed(again.pieces), strict=False):
        assert mine.requests == other.requests
    assert again.duration_s == pytest.approx(SPACE.duration_s)
