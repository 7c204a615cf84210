"""A run with a real board, from the command line: as with the C here; and when the board goes."""

import functools
import json

import pytest

from derate.errors import SurroundingsError
from derate.firmware import board
from derate.lamp import load
from derate.loop import hunting
from tests.firmware.board_rig import BoardRig, board_program

pytest.importorskip("serial")
pytest.importorskip("pty", reason="no pseudo-terminals on this system")
BYTES = 700
"""After so many the board falls silent, some 50 steps into the run."""
PERIOD_S = 0.1
"""The starter's control period; tasks may begin late by less."""


@pytest.fixture
def rig(folder):
    """A board with the settings of the starter lamp, which board.toml runs on."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    (folder / "here.toml").write_text(text.replace('"python"', '"c"'), encoding="utf-8")
    at = text.replace('body = "python"', 'body = "serial:port@115200"')
    (folder / "board.toml").write_text(at, encoding="utf-8")
    work = folder / "work"
    work.mkdir()
    with BoardRig(board_program(load(folder / "lamp.toml"), work), folder / "port") as rig:
        yield rig


def test_a_run_with_a_board_is_the_run_without(rig, derate):
    """Every figure is that of the C on this machine; the line's own are told besides."""
    told = [
        json.loads(derate("run", file, "--profile", "short.toml", "--json")[1])
        for file in ("here.toml", "board.toml")
    ]
    talk = told[1].pop("board")
    assert (talk["steps"], talk["resets_s"], talk["pace"]) == (200, [], "stepped")
    for document in told:
        del document["provenance"]
    assert told[0] == told[1]


def test_what_was_computed_is_told_when_the_board_goes(rig, derate, monkeypatch, folder):
    """One sentence, status 2; report and table tell of the run until then."""
    quick = functools.partial(board.BoardBody, answer_s=0.05, gone_s=0.2)
    monkeypatch.setattr(board, "BoardBody", quick)
    rig.silent_after = BYTES
    status, out, err = derate("run", "board.toml", "--profile", "short.toml", "--out", "out")
    assert status == 2
    assert "derate: the board at port gave no answer for 0.2 s, at " in err.splitlines()[-1]
    assert "Cut short: the board at port gave no answer" in out
    summary = json.loads((folder / "out" / "summary.json").read_text(encoding="utf-8"))
    assert 0 < summary["board"]["steps"] < 200
    assert summary["duration_s"] == pytest.approx(
        PERIOD_S * summary["board"]["steps"], abs=PERIOD_S
    )
    assert "cut short" in (folder / "out" / "report.html").read_text(encoding="utf-8")


def test_a_run_is_not_lost_for_want_of_a_compiler(rig, derate, monkeypatch):
    """Where the light swings and nothing can tell why, that is a warning behind a finished run."""

    def examine(*_, **__):
        raise SurroundingsError("no C compiler found")

    monkeypatch.setattr(hunting, "examine", examine)
    status, out, err = derate("run", "board.toml", "--profile", "short.toml")
    assert status == 0
    assert "Held: " in out
    assert "warning: the light swings, and why was not looked for: no C compiler found" in err


@pytest.mark.parametrize("command", ["spread", "tune"])
def test_one_board_is_not_many_units(rig, derate, command):
    """What runs many lamps refuses a board before it begins."""
    status, _, err = derate(command, "board.toml")
    assert status == 2
    assert 'board.toml: controller.body: found "serial:port@115200", due "c"' in err
