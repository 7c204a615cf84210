"""Whatever a user mistypes earns one sentence on standard error and exit status 2."""

import os
import re

import pytest

MISTAKES = [
    ([], "a command is due, one of run, table, point, spread, tune, challenge, worst, faults"),
    (["rnu", "lamp.toml"], 'no command is called "rnu", nearest is "run"; see `derate --help`'),
    (["quux"], 'no command is called "quux"; see `derate --help`'),
    (["--jsn", "run", "lamp.toml"], 'no option is called "--jsn", nearest is "--json"'),
    (["run"], "the following arguments are required: LAMP; see `derate run --help`"),
    (["run", "lamp.toml", "--sed", "3"], 'no option is called "--sed", nearest is "--seed"'),
    (["run", "lamp.toml", "--sede=3"], 'no option is called "--sede", nearest is "--seed"'),
    (["run", "lamp.toml", "more"], 'run has no use for "more"; see `derate run --help`'),
    (["run", "lamp.toml", "--seed"], "--seed: expected one argument; see `derate run --help`"),
    (
        ["run", "lamp.toml", "--seed", "x"],
        '--seed: found "x", a whole number from 0 to 4294967295 is due; see `derate run --help`',
    ),
    (["run", "lamp.toml", "--seed=-1"], '--seed: found "-1", a whole number from 0'),
    (["run", "lamp.toml", "--seed", "4294967296"], '--seed: found "4294967296", a whole'),
    (["run", "lamp.toml", "--seed", "9" * 5000], f'--seed: found "{"9" * 57}...", a whole number'),
    (["run", ""], 'LAMP: found "", a name is due; see `derate run --help`'),
    (["run", "lamp.toml", "--profile", ""], '--profile: found "", a name is due'),
    (["run", "lamp.toml", "--out", ""], '--out: found "", a name is due'),
    (["run", "lamp.toml", "--profile", "x\ny"], 'lamp.toml: profile: found "x\\ny", due a profile'),
    (["x\ny"], r'no command is called "x\u000ay"; see'),
    (["run", "lamp.toml", "--profile", "n" * 300], 'lamp.toml: profile: found "nnn'),
    (["run", "lamp.toml", "--out", "n" * 300], "n" * 300 + " cannot be written: file name too"),
    (["run", "bad.toml", "--out", "fresh/out"], "bad.toml: "),
    (["run", "spoilt.toml", "--profile", "short.toml", "--out", "fresh/out"], "spoilt.toml: "),
    (["new", "n" * 300 + ".toml"], "n" * 300 + ".toml cannot be written: file name too long"),
    (["run", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["run", "."], ".: found a folder, due a lamp file"),
    (["run", "short.toml"], "short.toml: "),
    (
        ["run", "lamp.toml", "--out", "short.toml"],
        "--out short.toml is a file, and a folder is due",
    ),
    (
        ["run", "lamp.toml", "--out", "short.toml/out"],
        "--out short.toml/out lies in something that is no folder",
    ),
    (
        ["run", "lamp.toml", "--profile", "evning"],
        'lamp.toml: profile: found "evning", due a profile file or one of evening, hot_bag; '
        'nearest is "evening"',
    ),
    (
        ["run", "lamp.toml", "--profile", "none.toml"],
        "none.toml: found no such file, due a profile",
    ),
    (["run", "lamp.toml", "--profile", "."], ".: found a folder, due a profile file"),
    (["check", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["check", "lamp.toml", "--json"], 'no option is called "--json"'),
    (["new"], "the following arguments are required: FILE; see `derate new --help`"),
    (["new", "lamp.toml"], "lamp.toml exists already; give another name"),
    (["new", "lamp.txt"], "lamp.txt: the name of a lamp file ends in .toml"),
    (["new", "no/where.toml"], "no/where.toml cannot be written: there is no folder no"),
    (["new", "lamp.toml/x.toml"], "lamp.toml/x.toml cannot be written: there is no folder"),
]


def spoilt(lamp):
    """A lamp file that is right by itself, whose sensing chain cannot be built."""
    text = re.sub(r'\nsupply = "[^"]* mV/A"', '\nsupply = "100 V/A"', lamp)
    assert text != lamp
    return text


@pytest.mark.parametrize(
    ("words", "sentence"), MISTAKES, ids=[" ".join(m[0])[:60] for m in MISTAKES]
)
def test_mistakes(words, sentence, folder, derate):
    """One sentence says what is wrong; nothing is printed or written."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    (folder / "spoilt.toml").write_text(spoilt(text), encoding="utf-8")
    (folder / "bad.toml").write_text("[lamp]\n", encoding="utf-8")
    before = sorted(os.listdir(folder))
    status, out, err = derate(*words)
    assert status == 2
    assert out == ""
    last = err.rstrip("\n").split("\n")[-1]
    assert last.startswith(f"derate: {sentence}"), err
    assert "Traceback" not in err
    assert all(line.startswith("derate: ") for line in err.rstrip("\n").split("\n"))
    assert sorted(os.listdir(folder)) == before


def test_an_impossible_chain_names_its_file(folder, derate):
    """What only building the sensing chain can find names the lamp file, in check and in run."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    (folder / "spoilt.toml").write_text(spoilt(text), encoding="utf-8")
    for words in (["check", "spoilt.toml"], ["run", "spoilt.toml", "--profile", "short.toml"]):
        status, out, err = derate(*words)
        assert (status, out) == (2, "")
        assert "derate: spoilt.toml: sensors.ntc.disturbance" in err


def test_a_folder_that_may_not_be_written(folder, derate, monkeypatch):
    """An unwritable --out is told before any work is done."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    status, _, err = derate("run", "lamp.toml", "--out", "out")
    assert status == 2
    assert err == "derate: --out out cannot be written: permission denied\n"


def test_each_mistake_of_a_file_has_a_line(folder, derate):
    """Several mistakes in a lamp file are a line each, and still status 2."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    text = text.replace('cutoff = "', 'cutof = "').replace('body = "python"', 'body = "rust"')
    (folder / "two.toml").write_text(text, encoding="utf-8")
    status, out, err = derate("check", "two.toml")
    assert (status, out) == (2, "")
    assert [line.split(": ")[2] for line in err.splitlines()] == [
        "controller.body", "controller.cutof", "controller.cutoff",
    ]  # fmt: skip
    assert all(line.startswith("derate: two.toml: ") for line in err.splitlines())
