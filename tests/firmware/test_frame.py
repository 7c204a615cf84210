"""Frames on the serial line: found in whatever comes, and never taken from damaged bytes."""

import ctypes

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.firmware.build import build_library, reference_folder
from derate.firmware.frame import ANSWER, WELCOME, Answer, Welcome, Window, check_of
from derate.firmware.link_settings import FILE_NAME, link_header
from derate.firmware.sources import sources_of
from derate.sensing.chain import chains_of
from tests.control.small_lamp import small_lamp

DIGITS, CHECK = b"123456789", 0x29B1
"""The check value of CRC-16/IBM-3740 in the catalogue of parametrised CRC algorithms (Cook)."""
CHANNELS = 3
WORD = st.integers(0, 65535)
EXAMPLES = 60


def frame(kind, content, complement=0xFF):
    """A frame as a board sends it."""
    data = bytes([kind, kind ^ complement]) + content
    return data + check_of(data).to_bytes(2, "big")


def words(*values):
    """Values of two bytes, the high byte first."""
    return b"".join(value.to_bytes(2, "big") for value in values)


@st.composite
def frames(draw):
    """A frame of either kind from a board of three channels, and what it says."""
    if draw(st.booleans()):
        said = Welcome(*(draw(WORD) for _ in range(2)), draw(WORD) << 16 | draw(WORD), 1, CHANNELS)
        content = words(said.session, said.sequence, said.identity >> 16, said.identity & 0xFFFF)
        return frame(WELCOME, content + bytes([said.sensors, said.channels])), said
    values = [draw(WORD) for _ in range(4 + CHANNELS)]
    return frame(ANSWER, words(*values)), Answer(*values[:4], tuple(values[4:]))


@pytest.fixture(scope="module")
def board_side():
    """The C of the board's end, as a library of this machine."""
    lamp = small_lamp()
    chains = chains_of(lamp)
    sources = sources_of(lamp, chains)
    headers = sources.headers | {FILE_NAME: link_header(lamp, chains)}
    return ctypes.CDLL(str(build_library([reference_folder() / "link.c", *sources.files], headers)))


def test_the_check_has_its_published_value(board_side):
    """The CRC of the digits 1 to 9 is the published one, here and on the board."""
    assert check_of(DIGITS) == CHECK
    board_side.link_check.restype = ctypes.c_uint16
    assert board_side.link_check(DIGITS, len(DIGITS)) == CHECK


@settings(max_examples=EXAMPLES, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_survived(data):
    """Whatever comes, nothing fails, every byte is counted, and noise is no frame."""
    window = Window(CHANNELS)
    assert not list(window.feed(data))
    assert (window.received, window.framed) == (len(data), 0)


def test_a_kind_without_its_complement_is_none():
    """A right CRC alone makes no frame."""
    for kind, size in ((WELCOME, 10), (ANSWER, 14)):
        assert list(Window(CHANNELS).feed(frame(kind, bytes(size))))
        assert not list(Window(CHANNELS).feed(frame(kind, bytes(size), complement=0xFE)))


@settings(max_examples=EXAMPLES, deadline=None)
@given(st.binary(max_size=60), st.sampled_from([b"", b"\xc9\x36", b"\x96\x69"]), frames())
def test_a_frame_after_garbage_is_found(garbage, like_a_frame, given_frame):
    """The moment its last byte is there, also when a frame seemed to begin just before it."""
    data, said = given_frame
    window = Window(CHANNELS)
    assert list(window.feed(garbage + like_a_frame + data))[-1:] == [said]
    assert window.framed >= len(data)


@settings(max_examples=EXAMPLES, deadline=None)
@given(frames(), st.integers(0, 1000), st.integers(1, 65535))
def test_damage_is_seen(given_frame, place, pattern):
    """No frame is taken from one whose bits are changed within any two neighbouring bytes."""
    data, _ = given_frame
    at = place % (len(data) - 1)
    changed = int.from_bytes(data[at : at + 2], "big") ^ pattern
    damaged = data[:at] + changed.to_bytes(2, "big") + data[at + 2 :]
    assert not list(Window(CHANNELS).feed(damaged))


@settings(max_examples=EXAMPLES, deadline=None)
@given(frames(), frames(), st.integers(0, 1000), st.booleans())
def test_a_lost_or_doubled_byte_costs_one_frame(first, second, place, doubled):
    """The frame with the fault is not taken, and the next one is."""
    (data, _), (after, said) = first, second
    at = place % len(data)
    faulty = data[:at] + (data[at : at + 1] * 2 if doubled else b"") + data[at + 1 :]
    found = list(Window(CHANNELS).feed(faulty + after))
    assert found[-1] == said
    assert len(found) == 1 or data in faulty + after[:1]
