"""`derate table` tells what the firmware reads and writes what it needs."""

import json
import subprocess

import pytest

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
    assert "Too hot at 80 degC: code <= " in " ".join(out.split("\n\n")[-1].split())


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
