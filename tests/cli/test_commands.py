"""run, check and new do what they say, with the exit status that scripts rely on."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from derate import __version__, cli
from derate.lamp import starter_text

ROOT = Path(__file__).parents[2]


def started(*words):
    """The command line as a process of its own, with the package at hand."""
    return subprocess.Popen(
        [sys.executable, "-m", "derate", *words],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_run_prints_a_table_and_the_verdict(folder, derate):
    """A lamp that holds its limits: a table on standard output, the verdict last, status 0."""
    status, out, err = derate("run", "lamp.toml", "--profile", "short.toml")
    assert status == 0
    assert out.rstrip().split("\n")[-1].startswith("Held: ")
    assert "profile short, 20 s" in out
    assert "derate: running lamp.toml through short" in err


def test_run_exceeded(folder, derate):
    """A limit that is passed: status 1, and the verdict says so."""
    status, out, _ = derate("run", "touchy.toml", "--profile", "short.toml")
    assert status == 1
    assert "\nExceeded: housing " in out


def test_json_is_alone_on_standard_output(folder, derate):
    """--json prints one document and nothing else; progress goes to standard error."""
    words = ["run", "lamp.toml", "--profile", "short.toml", "--json", "--seed", "7"]
    status, out, err = derate(*words)
    document = json.loads(out)
    assert status == 0
    assert document["held"] is True
    assert document["provenance"]["seed"] == 7
    assert document["provenance"]["lamp_file"] == "lamp.toml"
    assert document["provenance"]["command"] == "derate " + " ".join(words)
    assert err.startswith("derate: ")


def test_possible_is_told_where_asked_for(folder, derate):
    """--possible adds the bound on any controller's light; a run that held lies below it."""
    status, out, err = derate("run", "lamp.toml", "--profile", "short.toml", "--possible", "--json")
    assert status == 0
    assert 0.5 < json.loads(out)["possible"]["share"] <= 1.0
    assert "looking for the most light that any controller could give" in err
    _, out, _ = derate("run", "lamp.toml", "--profile", "short.toml")
    assert "possible" not in out


def test_same_seed_same_document(folder, derate):
    """The same command gives the same bytes."""
    words = ["run", "lamp.toml", "--profile", "short.toml", "--json", "--seed", "7"]
    assert derate(*words)[1] == derate(*words)[1]


def test_out_gets_the_files(folder, derate):
    """--out DIR makes the folder and writes summary, trace, figures and page."""
    status, out, err = derate("run", "lamp.toml", "--profile", "short.toml", "--json", "--out", "o")
    assert status == 0
    names = {path.name for path in (folder / "o").iterdir()}
    assert {"summary.json", "trace.csv", "report.html", "overview.svg", "overview.png"} <= names
    assert (folder / "o" / "summary.json").read_text(encoding="utf-8") == out
    assert "to o, report.html among them" in err


def test_the_first_profile_is_the_default(folder, derate, monkeypatch):
    """Without --profile the first one is taken, and standard error says which."""

    def stop(lamp, name, **_):
        raise KeyboardInterrupt

    monkeypatch.setattr("derate.loop.run.run", stop)
    status, _, err = derate("run", "lamp.toml")
    assert "derate: no --profile given, so evening, the first of evening, hot_bag\n" in err
    assert err.endswith("derate: interrupted\n")
    assert status == 130


def test_a_lamp_without_profiles_asks_for_one(folder, derate):
    """Where the lamp file has no profile, one is due on the command line."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    (folder / "bare.toml").write_text(text[: text.index("[profiles.evening]")], encoding="utf-8")
    status, _, err = derate("run", "bare.toml")
    assert status == 2
    assert (
        err == "derate: bare.toml: profiles: found none, due a profile in it, or a profile file\n"
    )
    assert derate("check", "bare.toml")[1].endswith("; profiles: none\n")


def test_check_tells_what_it_saw(folder, derate):
    """A right lamp file is summed up in one line, by the name of its file."""
    status, out, _ = derate("check", str(folder / "lamp.toml"))
    assert status == 0
    assert out == (
        "lamp.toml: a lamp with 2 channels, 3 nodes, 1 sensor; profiles: evening, hot_bag\n"
    )


def test_check_tells_the_drawing(folder, derate):
    """Of a lamp from its drawing: board, faces, interface, surfaces, and the values it borrows."""
    derate("new", "drawn.toml", "--board")
    status, out, _ = derate("check", "drawn.toml")
    assert status == 0
    told = dict(line.strip().split(": ", 1) for line in out.splitlines())
    assert told["board"].startswith("70 mm by 50 mm, 2 holes; copper 70 um copper, dielectric ")
    assert told["front of the board"] == "facing side, air, emissivity 0.9, to ambient"
    assert told["interface"].startswith("board to sink, 120 um our_gap_filler, 40.0 mm^2*K/W, on a")
    assert told["surface heat_sink"].startswith(
        "sink to ambient, 8 fins 25 mm high on 100 mm by 80"
    )
    assert told["surface driver_case"] == "driver_board to ambient, 14 K/W at 40 K"
    assert told["built-in aluminium_5052"].startswith("138 W/(m*K), 2680 kg/m^3, 880 J/(kg*K); ")
    assert "built-in our_gap_filler" not in told
    assert "built-in sac305" in told


def test_check_builds_the_header(folder, derate):
    """With the C body, check makes the settings header and so finds what the C cannot hold."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8").replace('"python"', '"c"')
    (folder / "in_c.toml").write_text(text, encoding="utf-8")
    assert derate("check", "in_c.toml")[0] == 0


def test_new_board_writes_a_lamp_that_holds_at_rest(folder, derate):
    """`derate new --board` writes a lamp described by its drawing; it holds at rest in 25 degC."""
    status, out, _ = derate("new", "drawn.toml", "--board")
    assert status == 0
    assert "derate point drawn.toml" in out
    assert (folder / "drawn.toml").read_text(encoding="utf-8") == starter_text(board=True)
    status, out, _ = derate("point", "drawn.toml")
    assert status == 0
    assert out.rstrip().split("\n")[-1].startswith("Holds at rest in 25 degC: ")


def test_new_writes_a_lamp_that_runs(folder, derate):
    """The starter file is written as it is, passes check, and the user is told what comes next."""
    status, out, _ = derate("new", "my lamp.toml")
    assert status == 0
    assert (folder / "my lamp.toml").read_text(encoding="utf-8") == starter_text()
    assert "derate check 'my lamp.toml'" in out
    assert derate("check", "my lamp.toml")[0] == 0


@pytest.mark.parametrize(
    "words",
    [["check", "lamp.toml"], ["run", "lamp.toml", "--profile", "short.toml"]],
    ids=["check", "run"],
)
def test_a_closed_pipe_is_no_error(words, folder):
    """A reader that goes away ends the program quietly, and not as if a limit was exceeded."""
    with started(*words) as one:
        one.stdout.close()
        assert "Traceback" not in one.stderr.read()
    assert one.returncode == cli.PIPE_CLOSED


def test_an_interrupt_is_one_line(folder):
    """Ctrl-C in the middle of a long run: it ends in one line, status 130."""
    with started("run", "lamp.toml", "--json", "--profile", "hot_bag") as one:
        assert one.stderr.readline() == "derate: running lamp.toml through hot_bag\n"
        one.send_signal(signal.SIGINT)
        last = one.stderr.read().rstrip("\n").split("\n")[-1]
        assert last == "derate: interrupted"
        assert one.stdout.read() == ""
    assert one.returncode == cli.INTERRUPTED


def test_version(derate):
    """The version alone on standard output."""
    assert derate("--version") == (0, f"derate {__version__}\n", "")


def test_interrupted_files_stay_whole(folder, derate, monkeypatch):
    """An interrupt while writing leaves nothing half done, and one line."""

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("derate.report.files.page", interrupted)
    status, out, err = derate("run", "lamp.toml", "--profile", "short.toml", "--out", "o")
    assert (status, out) == (130, "")
    assert err.endswith("derate: interrupted\n")
    assert not Path("o").exists()
