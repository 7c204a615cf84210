"""A file with several mistakes is told all of them at once, in its order, up to ten."""

import re
from pathlib import Path

import pytest

from derate.errors import InputError
from derate.lamp import load, load_profile, starter_text
from derate.lamp.sentence import MOST_TOLD

BOARD_LAMP = (Path(__file__).parent / "board_lamp.toml").read_text(encoding="utf-8")


def told(text, folder):
    """What each sentence says behind the name of the file."""
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    prefix = f"{path}: "
    assert all(sentence.startswith(prefix) for sentence in caught.value.sentences)
    return [sentence.removeprefix(prefix) for sentence in caught.value.sentences]


def edited(text, *pairs):
    """The text with each edit made once."""
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def test_values_and_keys_of_one_table_and_of_others(tmp_path):
    """A wrong unit, an unknown key and a missing one stand side by side, as in the file."""
    text = edited(
        BOARD_LAMP,
        ('cell = "1 mm"', 'cell = "1 kg"'),
        ('accuracy = "1 %"', 'acuracy = "1 %"'),
        ('footprint = ["3.3 mm", "3.2 mm"]', 'footprint = ["3.3 mm"]'),
        ('resistance_convention = "real"\njunction', "junction"),
    )
    assert [sentence.partition(":")[0] for sentence in told(text, tmp_path)] == [
        "board.cell",
        "board.acuracy",
        "emitters.white.footprint",
        "emitters.white.resistance_convention",
    ]


def test_names_and_places(tmp_path):
    """Of names that lead nowhere each is told; then of things that do not lie on the board each."""
    names = edited(
        BOARD_LAMP,
        ('material = "copper", thickness', 'material = "coper", thickness'),
        ('fill = "sac305"', 'fill = "sac35"'),
    )
    assert [sentence.partition(":")[0] for sentence in told(names, tmp_path)] == [
        "board.bottom_copper.material",
        "board.vias.fill",
    ]
    places = edited(
        BOARD_LAMP,
        ('at = [["20 mm", "20 mm"]', 'at = [["1 mm", "20 mm"]'),
        ('at = ["40 mm", "20 mm"]', 'at = ["70 mm", "20 mm"]'),
    )
    sentences = told(places, tmp_path)
    assert [sentence.partition(":")[0] for sentence in sentences] == [
        "channels.flood.at[entry 1]",
        "sensors.ntc.at",
    ]
    assert all("count from the lower left corner" in sentence for sentence in sentences)


def test_of_many_the_first_are_told(tmp_path):
    """The last sentence counts those that are not told."""
    text, count = re.subn(r'(current|forward_voltage) = \["[^]]*\]', r"\1 = 7", starter_text())
    text, more = re.subn(r'= "[^"]*(K/W|J/K)"', '= "7 m"', text)
    sentences = told(text, tmp_path)
    assert count + more > MOST_TOLD
    assert len(sentences) == MOST_TOLD
    assert re.search(r" \(and \d+ more\)$", sentences[-1])
    assert not any("more)" in sentence for sentence in sentences[:-1])


def test_a_profile_too(tmp_path, starter):
    """So are the mistakes of a profile file against its lamp."""
    path = tmp_path / "mission.toml"
    path.write_text(
        'duration = "20 s"\nambient = "25 degC"\nrequest = { spit = 1, flod = 1 }\n'
        'events = [{ kind = "sensor open", sensor = "none", at = "1 s" }]\n',
        encoding="utf-8",
    )
    with pytest.raises(InputError) as caught:
        load_profile(path, starter)
    keys = [
        sentence.removeprefix(f"{path}: ").partition(":")[0] for sentence in caught.value.sentences
    ]
    assert keys == ["request.spit", "request.flod", "events[entry 1].sensor"]
