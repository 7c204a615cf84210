"""The generated header: the same bytes each time, provenance, and refusals that name the key."""

import re
import tomllib

import pytest

from derate import __version__
from derate.control import command
from derate.errors import InputError
from derate.firmware.build import reference_folder
from derate.firmware.header import settings_header
from derate.lamp import load, starter_text
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, PI, POLICIES, STEPS, small_lamp


@pytest.fixture
def starter(tmp_path):
    """The starter lamp, from a file."""
    path = tmp_path / "my_lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    return load(path)


@pytest.mark.parametrize("policy", POLICIES, ids=str)
def test_the_same_lamp_gives_the_same_bytes(policy):
    """Generated twice, from two readings of the lamp, the header is byte-identical."""
    first = settings_header(small_lamp(POLICIES[policy], sensors=2))
    assert first == settings_header(small_lamp(POLICIES[policy], sensors=2))
    assert first.isascii()


def test_the_header_says_what_made_it(starter):
    """Lamp name, file name, hash, version, options, and the cautions stand on top."""
    text = settings_header(starter)
    head = text[: text.index("*/")]
    name = tomllib.loads(starter_text())["lamp"]["name"]
    for due in (name, "my_lamp.toml", starter.sha256[:16], __version__, "policy foldback", "0.1 s"):
        assert due in head
    assert "hardware cut-out" in head
    assert "injures eyes" in head
    assert str(starter.source.parent) not in text


def test_the_header_shows_when_a_setting_was_changed(starter):
    """A lamp changed in memory keeps its file's hash; the hash of the settings tells it apart."""
    changed = starter.with_changes({"controller.cutoff": "84 degC"})
    hashes = [
        re.search(r"These settings: sha256 (\w+)", settings_header(lamp))[1]
        for lamp in (starter, changed)
    ]
    assert hashes[0] != hashes[1]


@pytest.mark.parametrize("name", ["end */ int x; /*", "what??/", "two\nlines", "\u00b5 back\\"])
def test_a_name_cannot_leave_the_comment(name):
    """Whatever a lamp is called, the header stays one comment and one program."""
    lamp = small_lamp().with_changes({"lamp.name": name})
    text = settings_header(lamp)
    head, _, rest = text.partition("*/")
    assert rest.startswith("\n#ifndef")
    assert "/*" not in head[2:]
    assert "??" not in text
    assert text.isascii()


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"max_jump": "0.004 K"}, ["max_jump", "0.004 K", "whole steps of 0.01 K"]),
        ({"max_jump": "700 K"}, ["max_jump", "700 K"]),
        ({"release": "1e-8 1/s"}, ["release", "1e-08 1/s", "at least 2.3e-07 1/s"]),
        ({"hold": "5e8 s"}, ["hold", "control periods"]),
        ({"policy": PI | {"integral": "1e-7 1/(K*s)"}}, ["policy.integral", "2.3e-05 1/(K*s)"]),
        ({"policy": PI | {"gain": "1e-6 1/K"}}, ["policy.gain", "2.3e-06 1/K"]),
        ({"policy": PI | {"gain": "1e9 1/K"}}, ["policy.gain", "less than"]),
        ({"policy": FOLDBACK | {"end": "50.001 degC"}}, ["policy.end", "0.01 K above start"]),
        ({"policy": FOLDBACK | {"hysteresis": "0.001 K"}}, ["policy.hysteresis", "0.001 K"]),
        (
            {"policy": STEPS | {"hysteresis": "0 K", "levels": [
                {"at": "50 degC", "limit": 0.5}, {"at": "50.002 degC", "limit": 0.2}]}},
            ["policy.levels[entry 2].at", "0.01 K above the level before"],
        ),
    ],
)  # fmt: skip
def test_what_the_c_cannot_hold_is_refused(keys, words):
    """One sentence with the key, what was found and what is due; nothing is bent silently."""
    lamp_keys = {"policy": FOLDBACK} | keys
    with pytest.raises(InputError) as told:
        settings_header(small_lamp(**lamp_keys))
    for word in words:
        assert word in str(told.value)


def test_a_cut_off_beyond_the_table_is_refused():
    """A cut-off that no reading reaches would never act."""
    lamp = small_lamp(cutoff="90 degC")
    narrow = lamp.with_changes(
        {"sensors.ntc_0.thermistor.range": ["-40 degC", "80 degC"], "controller.cutoff": "75 degC"}
    )
    told = r"cutoff: found 90 degC, due at most .* sensor ntc_0, (79\.9|80)"  # table: 0.1 K
    with pytest.raises(InputError, match=told):
        settings_header(lamp, chains_of(narrow))


def test_the_flags_of_both_languages_are_the_same():
    """Each status flag has one value, in derate.h and in command.py."""
    text = (reference_folder() / "derate.h").read_text()
    flags = {
        name: int(value, 16)
        for name, value in re.findall(r"#define DERATE_(\w+) (0x[0-9a-f]{4})u", text)
    }
    assert flags == {name: getattr(command, name) for name in flags}
    assert len(flags) == 11
    assert len(set(flags.values())) == 11
