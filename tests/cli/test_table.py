"""`derate table` tells what the firmware reads and writes what it needs."""

import json
import re
import signal
import subprocess
from pathlib import Path

import numpy as np
import pytest

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
MISTAKES = [
    (["table"], "the following arguments are required: LAMP; see `derate table --help`"),
    (["table", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["table", "lamp.toml", "--max-error", "0.1"], '--max-error: found "0.1", an error such as'),
    (["table", "lamp.toml", "--max-error", "1 K", "--bytes", "40"], "--bytes: not allowed with"),
    (["table", "lamp.toml", "--bits", "5"], '--bits: found "5", a whole number from 6 to 16'),
    (["table", "lamp.toml", "--kind", "placed"], '--kind: found "placed", one of placed knots,'),
    (["table", "lamp.toml", "--sensor", "x"], 'lamp.toml: no sensor is called "x"; due is one of'),
    (["table", "lamp.toml", "--threshold", "85 kohm"], '--threshold: found "85 kohm", a temper'),
    (["table", "lamp.toml", "--threshold", "200 degC"], "lamp.toml: sensors.ntc: found a thresh"),
    (["table", "lamp.toml", "--max-error", "1 mK"], "lamp.toml: sensors.ntc"),
    (
        ["table", "lamp.toml", "--interest", "80 degC", "40 degC"],
        "lamp.toml: design: found the range 80 to 40 degC",
    ),
    (["table", "lamp.toml", "--c", "short.toml"], "--c short.toml is a file, and a folder is due"),
    (["table", "lamp.toml", "--max-error", "0 K"], '--max-error: found "0 K", one above 0 K'),
    (["table", "lamp.toml", "--max-error", "-1 K"], '--max-error: found "-1 K", one above 0 K is'),
    (["table", "lamp.toml", "--bytes", "0"], '--bytes: found "0", a whole number from 1 to'),
    (["table", "lamp.toml", "--scale", "10"], '--scale: found "10", one of 16, 32, 64, 100, 128'),
    (["table", "lamp.toml", "--sensor", ""], '--sensor: found "", a name is due'),
    (["table", "lamp.toml", "--aim", "both"], '--aim: found "both", one of resolution, error is'),
    (["table", "lamp.toml", "--series", "E6"], '--series: found "E6", one of E12, E24, E96 is due'),
    (["table", "lamp.toml", "--ramp", "-1 K/s"], '--ramp: found "-1 K/s", one of at least 0 K/s'),
    (["table", "lamp.toml", "--ambient", "1 degC", "x"], '--ambient: found "x", a temperature'),
    (["table", "lamp.toml", "--tresh", "1"], 'no option is called "--tresh", nearest is "--thresh'),
]


@pytest.mark.parametrize(("words", "sentence"), MISTAKES, ids=[" ".join(m[0]) for m in MISTAKES])
def test_mistakes(words, sentence, folder, derate):
    """One sentence says what is wrong, status 2, nothing on standard output."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert err.rstrip("\n").split("\n")[-1].startswith(f"derate: {sentence}"), err


def test_table_tells_the_threshold_last(folder, derate):
    """A table for people, status 0, the verdict with the code to compare with in the end."""
    status, out, _ = derate("table", "lamp.toml", "--threshold", "80 degC")
    assert status == 0
    words = " ".join(out.split("\n\n")[-1].split())
    assert re.search(r"Too hot at 80 degC: code <= \d+, or code >= \d+ \(open\); units", words)


def test_the_readme_shows_this_table(folder, derate):
    """What the README shows of the starter's table is what is printed."""
    shown = README.split("derate table my_lamp.toml", 1)[1].split("```\n", 1)[1]
    first, rest = shown.split("    ...\n")
    last = rest.split("no ramp.")[0] + "no ramp."
    told = " ".join(derate("table", "lamp.toml", "--threshold", "80 degC")[1].split())
    assert " ".join(first.split()) in told
    assert told.endswith(" ".join(last.split()))


def test_the_situation_is_stated_and_counts(folder, derate):
    """--ambient and --ramp stand beside budget and trip band, and widen the errors."""
    words = ["table", "lamp.toml", "--threshold", "80 degC"]
    asked = ["--ambient", "-10 degC", "45 degC", "--ramp", "0.5 K/s"]
    calm, moved = derate(*words, "--json")[1], derate(*words, *asked, "--json")[1]
    calm, moved = json.loads(calm), json.loads(moved)
    assert moved["budget"]["situation"]["ambient_c"] == [-10.0, 45.0]
    assert "air from -10 to 45 degC" in moved["verdict"]
    assert "0.5 K/s" in moved["verdict"]
    band_k = [one["threshold"]["high_c"] - one["threshold"]["low_c"] for one in (calm, moved)]
    assert band_k[1] > band_k[0]
    assert np.all(np.less(moved["budget"]["worst_low_k"], calm["budget"]["worst_low_k"]))
    told = " ".join(derate(*words, *asked)[1].split())
    assert told.count("air from -10 to 45 degC") == 2


def test_the_aim_and_series_choose_resistors(folder, derate):
    """Resistors come in order of what --aim asks, of the series asked for."""
    words = ["table", "lamp.toml", "--aim", "error", "--series", "E12", "--json"]
    found = json.loads(derate(*words)[1])["resistors"]
    errors_k = [one["worst_error_k"] for one in found if one["refused"] is None]
    assert errors_k == sorted(errors_k)
    few = len(found)
    words[words.index("E12")] = "E96"
    assert len(json.loads(derate(*words)[1])["resistors"]) > 4 * few


def test_the_first_of_two_sensors_is_told(folder, derate):
    """Who does not name a sensor where there are two learns which one was taken."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    part, *_ = text[text.index("[sensors.ntc]") :].split("# ----")
    second = part.replace("[sensors.ntc", "[sensors.other")
    (folder / "two.toml").write_text(f"{text}\n{second}\n", encoding="utf-8")
    taken = "derate: no --sensor given, so ntc, the first of ntc, other\n"
    assert taken in derate("table", "two.toml", "--json")[2]
    assert taken not in derate("table", "two.toml", "--sensor", "other", "--json")[2]


def test_a_poor_table_is_warned_of(folder, derate):
    """One line tells of a table that errs by more than 1 K, none of a good one."""
    poor = derate("table", "lamp.toml", "--bytes", "20", "--kind", "code steps", "--json")[2]
    assert poor.count("warning: the table itself errs by up to") == 1
    assert "the table itself" not in derate("table", "lamp.toml", "--json")[2]


def test_an_interrupt_leaves_nothing(folder, derate, monkeypatch):
    """Ctrl-C while the table is made: status 130, no file, no folder, nothing printed."""
    from derate.sensing import study

    real = study.study_lamp

    def pressed(*given, **more):
        signal.raise_signal(signal.SIGINT)
        return real(*given, **more)

    monkeypatch.setattr(study, "study_lamp", pressed)
    status, out, err = derate("table", "lamp.toml", "--c", "fw", "--out", "o")
    assert (status, out) == (130, "")
    assert err.endswith("derate: interrupted\n")
    assert not (folder / "fw").exists()
    assert not (folder / "o").exists()


@pytest.mark.parametrize("ours", [True, False])
def test_a_wrapped_interrupt_is_one(ours, folder, derate, monkeypatch):
    """A library that fails because of Ctrl-C counts as interrupted, another failure does not."""
    from derate.sensing import study

    def broken(*given, **more):
        raise SystemError("failed") from (KeyboardInterrupt() if ours else ValueError())

    monkeypatch.setattr(study, "study_lamp", broken)
    if ours:
        assert derate("table", "lamp.toml")[0] == 130
    else:
        with pytest.raises(SystemError):
            derate("table", "lamp.toml")


def test_json_is_alone_on_standard_output(folder, derate):
    """--json prints one document, which holds the command and the chosen table."""
    words = ["table", "lamp.toml", "--bits", "10", "--max-error", "0.2 K", "--json"]
    status, out, _ = derate(*words)
    document = json.loads(out)
    assert status == 0
    assert document["table"]["error_k"] <= 0.2
    assert document["table"]["fault_window"]["high_code"] < 1024
    assert document["provenance"]["command"].startswith("derate table lamp.toml --bits 10")


def test_bytes_bound_the_size(folder, derate):
    """--bytes asks for the least error in so many bytes."""
    sizes, errors_k = [], []
    for size in ("40", "120"):
        document = json.loads(derate("table", "lamp.toml", "--bytes", size, "--json")[1])
        sizes.append(document["table"]["bytes"])
        errors_k.append(document["table"]["error_k"])
    assert sizes[0] <= 40 < sizes[1] <= 120
    assert errors_k[1] < errors_k[0]


@pytest.mark.parametrize("kind", ["placed knots", "temperature steps", "code steps", "direct"])
def test_c_compiles_and_tests_itself(kind, folder, derate):
    """--c writes C whose own self-test passes with the compiler at hand."""
    from derate.firmware.build import find_compiler

    assert derate("table", "lamp.toml", "--kind", kind, "--c", "fw")[0] == 0
    command = find_compiler().command
    sources = ["fw/ntc_reading.c", "fw/ntc_reading_test.c"]
    subprocess.run([*command, "-std=c99", *sources, "-o", "fw/test"], check=True)
    told = subprocess.run(["fw/test"], check=True, capture_output=True, text=True).stdout
    assert told == "ntc: all codes give the readings that are due\n"


def test_out_gets_the_page(folder, derate):
    """--out writes page, figures and summary; the summary is what --json prints."""
    status, out, err = derate("table", "lamp.toml", "--out", "o", "--json")
    assert status == 0
    names = {path.name for path in (folder / "o").iterdir()}
    assert {"table.html", "summary.json", "budget.svg", "resolution.png"} <= names
    assert (folder / "o" / "summary.json").read_text(encoding="utf-8") == out
    assert "table.html among them" in err
