"""Reading files: what the starter gives, what cannot be read, and tables beside the lamp file."""

import hashlib
import os
import pickle

import pytest

from derate.errors import InputError
from derate.lamp import load, profile_of, starter_text

UNREADABLE = {
    "unquoted quantity": ("cutoff = 85 degC", "in line 1 (", "quantities stand in quotes"),
    "no value": ("[lamp]\nname =\n", '"name =" in line 2', "TOML"),
    "open text": ('name = "torch', "unterminated string at the end of the file", "TOML"),
    "open list": ("a = [1, 2", "unclosed array at the end of the file", "TOML"),
    "key twice": ("a = 1\na = 2\nb = 3\n", "in line 2", "TOML"),
    "too deep": ("a = " + "[" * 5000, "too deep", "TOML"),
    "too many digits": ("a = " + "9" * 5000, "too long", "TOML"),
}


@pytest.mark.parametrize(("text", "found", "due"), UNREADABLE.values(), ids=UNREADABLE.keys())
def test_bad_toml_is_told_with_its_line(text, found, due, tmp_path):
    """Text that is no TOML is refused with the line that stops it, where there is one."""
    path = tmp_path / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert found in str(caught.value)
    assert due in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_told(tmp_path):
    """A file that is not there, and a folder in its place, are told as such."""
    with pytest.raises(InputError, match="found no such file, due a lamp file"):
        load(tmp_path / "none.toml")
    with pytest.raises(InputError, match="found a folder"):
        load(tmp_path)
    with pytest.raises(InputError, match="found no file that can be read"):
        load("nul\0.toml")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_forbidden_file_is_told(tmp_path):
    """A file without read permission is told as such."""
    path = tmp_path / "locked.toml"
    path.touch(mode=0)
    with pytest.raises(InputError, match="may not be read"):
        load(path)


def test_another_encoding_is_told_with_its_line(tmp_path):
    """A byte that is not UTF-8 is refused with its line."""
    path = tmp_path / "latin.toml"
    path.write_bytes('[lamp]\nname = "Gr\u00fcn"\n'.encode("latin-1"))
    with pytest.raises(InputError, match="not UTF-8 in line 2, due a text file in UTF-8"):
        load(path)


def test_a_byte_order_mark_and_other_line_ends_do_no_harm(tmp_path, starter):
    """A file saved by another editor gives the same lamp."""
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + starter_text().replace("\n", "\r\n").encode())
    lamp = load(path)
    assert lamp.model_dump() == starter.model_dump()
    assert lamp.sha256 != starter.sha256


def test_a_lamp_knows_its_file(tmp_path):
    """Source and hash are those of the file, and stay out of the model's fields."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    lamp = load(path)
    assert lamp.source == path
    assert lamp.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert not {"source", "sha256"} & set(lamp.model_dump())


def test_a_lamp_travels_to_another_process(starter):
    """A pickled lamp is the same lamp."""
    again = pickle.loads(pickle.dumps(starter))
    assert again == starter
    assert again.profiles["evening"].jumps() == starter.profiles["evening"].jumps()


TABLE = "# invented\ntemperature_c,resistance_ohm\n-40,300000\n25,10000\n125,350\n"
TABLES = {
    "missing": (None, "cannot be read", "CSV file"),
    "other columns": ("t,r\n1,2\n", 'the columns "t,r"', "temperature_c,resistance_ohm"),
    "no numbers": (TABLE + "130,low\n", 'the row "130,low"', "two numbers in each row"),
    "three cells": (TABLE + "130,300,1\n", "the row", "two numbers in each row"),
    "rises": (TABLE + "130,400\n", "400 ohm at 130 degC", "falls as temperature rises"),
    "goes back": (TABLE + "120,300\n", "125 degC before 120 degC", "temperatures that rise"),
    "not finite": (TABLE + "130,inf\n", 'the row "130,inf"', "above zero"),
    "zero": (TABLE + "130,0\n", 'the row "130,0"', "above zero"),
    "too narrow": (TABLE.replace("125,", "100,"), "-40 to 125 degC", "within the table"),
    "empty": ("", "the columns", "temperature_c,resistance_ohm"),
}


def with_table(folder, content):
    """A lamp file whose thermistor is a CSV table beside it."""
    if content is not None:
        (folder / "ntc.csv").write_text(content, encoding="utf-8")
    text = starter_text().replace('b_value = "3950 K"\n', 'table = "ntc.csv"\n')
    path = folder / "lamp.toml"
    path.write_text(text.replace('resistance_25 = "10 kohm"\n', ""), encoding="utf-8")
    return path


def test_a_thermistor_table_beside_the_lamp_file_is_read(tmp_path):
    """The CSV file is looked for beside the lamp file."""
    lamp = load(with_table(tmp_path, TABLE))
    assert lamp.sensors["ntc"].thermistor.table == ((-40, 300000), (25, 10000), (125, 350))


@pytest.mark.parametrize(("content", "found", "due"), TABLES.values(), ids=TABLES.keys())
def test_a_spoilt_table_is_told(content, found, due, tmp_path):
    """Each mistake in a thermistor table is told by file, key, found and due."""
    path = with_table(tmp_path, content)
    with pytest.raises(InputError) as caught:
        load(path)
    assert str(caught.value).startswith(f"{path}: sensors.ntc.thermistor.")
    assert found in str(caught.value)
    assert due in str(caught.value)


@pytest.mark.parametrize("asked", ["n" * 300, "x\ny"], ids=["300 letters", "two lines"])
def test_a_profile_that_cannot_be_is_told_in_one_line(asked, tmp_path):
    """Neither a name that no file system takes nor a line feed gets past the one sentence."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    with pytest.raises(InputError, match="due a profile file or one of evening") as caught:
        profile_of(load(path), asked)
    assert "\n" not in str(caught.value)


def test_the_name_of_a_profile_file_is_printable(tmp_path):
    """A profile named after its file stands in reports in one line."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    mission = tmp_path / "two\nlines.toml"
    mission.write_text('duration = "20 s"\nambient = "25 degC"\n', encoding="utf-8")
    assert profile_of(load(path), mission)[0] == r"two\u000alines"


def test_the_starter_names_the_columns_of_a_table():
    """Who wants to give a CSV file learns its first line from the starter."""
    assert TABLE.split("\n")[1] in starter_text()
