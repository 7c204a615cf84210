"""Files with one mistake each, and the sentence that each one earns."""

import re
import tomllib
from pathlib import Path

import pytest

import derate.lamp
from derate.errors import InputError
from derate.lamp import load, load_profile, starter_text

HERE = Path(__file__).parent
LAMPS = tomllib.loads((HERE / "spoilt_lamps.toml").read_text(encoding="utf-8"))
BOARD_LAMP = (HERE / "board_lamp.toml").read_text(encoding="utf-8")
BOARDS = tomllib.loads((HERE / "spoilt_boards.toml").read_text(encoding="utf-8"))
TOLERANCES = tomllib.loads((HERE / "spoilt_tolerances.toml").read_text(encoding="utf-8"))
CUTOUTS = tomllib.loads((HERE / "spoilt_cutouts.toml").read_text(encoding="utf-8"))
PROFILES = tomllib.loads((HERE / "spoilt_profiles.toml").read_text(encoding="utf-8"))
PROFILE = """
duration = "10 min"
ambient = { at = ["0 s", "5 min"], value = ["20 degC", "30 degC"], between = "line" }
request = { spot = 1.0, flood = "30 %" }
events = [{ kind = "airflow", at = "2 min", until = "3 min", factor = 0.2 }]
"""
JARGON = ["Input should", "alidation", "pydantic", "type=", "NoneType", "tuple", " dict"]
CLASSES = [name for name in derate.lamp.__all__ if name[0].isupper()]


def spoil(text, case):
    """The text with one edit made."""
    assert case["old"] in text
    return text.replace(case["old"], case["new"], 1)


def check_sentences(sentences, file, case):
    """One is the mistake that was made; an edit may bring about a second one."""
    (meant,) = [one for one in sentences if one.startswith(f"{file}: {case['key']}: found ")]
    assert len(sentences) <= 2
    for other in sentences:
        key = other.removeprefix(f"{file}: ").partition(": found ")[0]
        anything = {"key": key, "found": "", "due": ""}
        check_sentence(other, file, case if other is meant else anything)


def check_sentence(sentence, file, case):
    """It names file, key, found and due on one line, without the words of the machinery."""
    assert sentence.startswith(f"{file}: {case['key']}: found ")
    found, due = sentence.removeprefix(f"{file}: {case['key']}: found ").split(", due ", 1)
    assert case["found"] in found
    assert case["due"] in due
    assert "\n" not in sentence
    assert not [word for word in JARGON if word in sentence.removeprefix(str(file))]
    assert not re.search(r"\b(" + "|".join(CLASSES) + r")\b", sentence.removeprefix(str(file)))


@pytest.mark.parametrize("case", TOLERANCES.values(), ids=TOLERANCES.keys())
def test_spoilt_tolerances_earn_one_sentence(case, tmp_path):
    """So does each mistake in what varies from unit to unit, impossible units among them."""
    path = tmp_path / "spoilt.toml"
    path.write_text(spoil(starter_text(), case), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    check_sentences(caught.value.sentences, path, case)


@pytest.mark.parametrize("case", LAMPS.values(), ids=LAMPS.keys())
def test_a_spoilt_lamp_file_earns_one_sentence(case, tmp_path):
    """Each mistake in a lamp file is told by file, key, what was found and what is due."""
    path = tmp_path / "spoilt.toml"
    path.write_text(spoil(starter_text(), case), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    check_sentences(caught.value.sentences, path, case)


@pytest.mark.parametrize("case", CUTOUTS.values(), ids=CUTOUTS.keys())
def test_a_spoilt_cutout_earns_one_sentence(case, tmp_path):
    """So does each mistake in a cut-out: its place, its temperatures, what it opens."""
    path = tmp_path / "spoilt.toml"
    path.write_text(f"{starter_text()}\n[cutouts.switch]\n{case['new']}\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    check_sentences(caught.value.sentences, path, case)


@pytest.mark.parametrize("case", BOARDS.values(), ids=BOARDS.keys())
def test_a_spoilt_board_earns_one_sentence(case, tmp_path):
    """So is each mistake in a board, its materials, its surfaces and what stands on it."""
    path = tmp_path / "spoilt.toml"
    path.write_text(spoil(BOARD_LAMP, case), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    check_sentences(caught.value.sentences, path, case)


@pytest.mark.parametrize("case", PROFILES.values(), ids=PROFILES.keys())
def test_a_spoilt_profile_earns_one_sentence(case, tmp_path, starter):
    """Each mistake in a profile file is told by file, key, what was found and what is due."""
    path = tmp_path / "spoilt.toml"
    path.write_text(spoil(PROFILE, case), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_profile(path, starter)
    check_sentences(caught.value.sentences, path, case)


def test_the_profile_loads_unspoilt(tmp_path, starter):
    """The profile that the cases spoil is right as it stands."""
    path = tmp_path / "right.toml"
    path.write_text(PROFILE, encoding="utf-8")
    assert load_profile(path, starter).duration_s == 600.0
