"""The command ``derate firmware``: table, JSON, exit status."""

import json
from pathlib import Path

import pytest

from derate.cli import main
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
    assert printed.rstrip().splitlines()[-1].startswith("host, thumb agree bit for bit over")
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
