"""The command ``derate firmware``: table, JSON, exit status."""

import json
import re
import subprocess
from pathlib import Path

import pytest

from derate.cli import main
from derate.firmware import target
from derate.firmware.build import WARNINGS, find_compiler
from tests.firmware.own_c import needed

SIMS = Path(__file__).parents[2] / "sims"
BRIEF = ["--target", "thumb", "--steps", "300"]


def test_a_demo_agrees_and_fits_eighty_columns(capsys):
    """The table has its figures, the verdict stands last, the exit status is 0."""
    needed("thumb")
    status = main(["firmware", str(SIMS / "hunting_spot.toml"), *BRIEF, "--clock", "4 MHz"])
    printed = capsys.readouterr().out
    assert status == 0
    assert "longest step at 4.00 MHz" in printed
    assert printed.rstrip().splitlines()[-1].startswith("host and thumb agree bit for bit over")
    assert max(map(len, printed.splitlines())) <= 80


def test_json_is_one_document(capsys):
    """With --json there is one document with every figure."""
    needed("thumb")
    assert main(["firmware", str(SIMS / "hunting_spot.toml"), *BRIEF, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    core = document["cores"]["thumb"]
    assert document["agrees"]
    assert core["code_bytes"] > 0
    assert core["instructions"]["most"] >= core["instructions"]["typical"]


def test_a_difference_ends_with_status_one(capsys):
    """Where a core differs the states are shown and the status is 1."""
    needed("avr")
    lamp = str(SIMS / "own_firmware" / "desk_lamp.toml")
    assert main(["firmware", lamp, "--target", "avr", "--steps", "700"]) == 1
    printed = capsys.readouterr().out
    assert "state before that step, host and avr:" in printed
    assert "what was tuned is not what would run" in printed.replace("\n", " ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--target", "z80"], 'found "z80", one of thumb, riscv32, avr is due'),
        (["--clock", "8 s"], 'found "8 s", a clock such as "8 MHz" is due'),
    ],
)
def test_mistakes_are_told(words, said, capsys):
    """A wrong word is a sentence and status 2."""
    assert main(["firmware", "lamp.toml", *words]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("lamp", ["hunting_spot.toml", "own_firmware/desk_lamp.toml"])
def test_what_is_exported_compiles_and_is_right(lamp, tmp_path, capsys):
    """The folder holds all that a project needs; its test passes on the host, without a warning."""
    needed("thumb")
    folder = tmp_path / "drop_in"
    assert main(["firmware", str(SIMS / lamp), *BRIEF, "--export", str(folder)]) == 0
    assert "files to" in capsys.readouterr().err
    assert passes(folder)
    test = folder / "controller_test.c"
    text = test.read_text()
    at = text.index("duties[] = {") + len("duties[] = {")
    test.write_text(text[:at] + "\n    7," + text[at:].split(",", 1)[1])
    assert not passes(folder)


def passes(folder):
    """Whether the exported test, built by the commands of its page, finds every step right."""
    sources = sorted(map(str, folder.glob("*.c")))
    program = folder / "controller_test"
    strict = ["-std=c99", *WARNINGS, "-Werror", "-Wno-missing-field-initializers"]
    build = [*find_compiler().command, *strict, "-DCONTROLLER_TEST_MAIN", *sources]
    subprocess.run([*build, "-o", str(program)], check=True)
    return subprocess.run([str(program)]).returncode == 0


def test_the_page_says_how_to_use_it(tmp_path):
    """Call, period, order of the channels, caution and figures stand on the page."""
    needed("thumb")
    assert (
        main(["firmware", str(SIMS / "hunting_spot.toml"), *BRIEF, "--export", str(tmp_path)]) == 0
    )
    page = (tmp_path / "README.md").read_text()
    parts = ("Every 4 s", "controller_step(state, codes", "hardware", "| flash: code |", "link.h")
    for part in parts:
        assert part in page
    for name in re.findall(r"`(\w+\.[ch])`", page):
        assert (tmp_path / name).exists()


def test_without_any_core_each_is_told_and_nothing_is_run(monkeypatch, capsys):
    """Where nothing can be emulated a sentence for each core says what it needs; status 2."""
    monkeypatch.setattr(target, "_installed", lambda module: False)
    assert main(["firmware", str(SIMS / "hunting_spot.toml")]) == 2
    said = capsys.readouterr().err
    for name in ("thumb", "riscv32", "avr"):
        assert f"derate: {name} cannot be emulated without" in said
