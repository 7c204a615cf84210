"""Which colour and dash a channel or node gets."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.report import style
from derate.report.strokes import strokes

LEAST_CONTRAST = 3.0
"""Contrast of lines and signs with their ground: W3C, Web Content Accessibility Guidelines 2.1,
success criterion 1.4.11 (3:1); number and formula of the relative luminance from memory."""
EVERY_TONE = sorted({*style.PALETTE, *itertools.chain(*style.TONES.values())})
NAMES = st.lists(
    st.tuples(st.sampled_from([*style.TONES, "main", "board"]), st.integers(0, 9)).map(
        lambda pair: f"{pair[0]}_{pair[1]}"
    ),
    max_size=24,
    unique=True,
)


def luminance(colour):
    """Relative luminance of an sRGB colour."""
    shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("red", "red"),
        ("deep_red", "red"),
        ("green_pads", "green"),
        ("blue2", "blue"),
        ("warm_white", "warm"),
        ("white_cool", "cool"),
        ("white", "white"),
    ],
)
def test_a_name_chooses_its_colour(name, word):
    """A colour word in a name gives the colour, whatever stands beside and before it."""
    assert strokes(["main", name])[name].colour == style.TONES[word][0]


def test_a_word_inside_a_word_says_nothing():
    """Only whole words count: a reducer is not red."""
    assert strokes(["reducer"])["reducer"].colour == style.PALETTE[0]


@given(NAMES)
def test_no_two_are_the_same(names):
    """Strokes differ pairwise, in colour and in dash among the first eight, never like a limit."""
    found = strokes(names)
    assert list(found) == names
    assert len(set(found.values())) == len(names)
    assert style.LIMIT.dash not in {stroke.dash for stroke in found.values()}
    if len(names) <= len(style.PALETTE):
        assert len({stroke.colour for stroke in found.values()}) == len(names)
        assert len({stroke.dash for stroke in found.values()}) == len(names)


@pytest.mark.parametrize("colour", EVERY_TONE)
def test_every_tone_is_seen_on_white(colour):
    """Each tone stands out from white paper; no tone is the colour of the limits."""
    assert 1.05 / (luminance(colour) + 0.05) >= LEAST_CONTRAST
    assert colour != style.LIMIT.colour
