"""`derate point` tells how a lamp is at rest, and says by its status whether it may be there."""

import json
import os
import re
import signal
import sys
from pathlib import Path

import pytest

from derate.cli import LINEAR_ALGEBRA

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
MISTAKES = [
    (["point"], "the following arguments are required: LAMP; see `derate point --help`"),
    (["point", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["point", "lamp.toml", "--ambient", "40"], '--ambient: found "40", a temperature such as'),
    (["point", "lamp.toml", "--ambient", "900 degC"], "lamp.toml: ambient: found 900 degC"),
    (["point", "lamp.toml", "--airflow", "-1"], '--airflow: found "-1", a factor of at least 0'),
    (["point", "lamp.toml", "--airflow", "inf"], '--airflow: found "inf", a factor of at least'),
    (
        ["point", "lamp.toml", "--airflow", "1e300"],
        "lamp.toml: airflow: found 1e+300, due a factor",
    ),
    (["point", "lamp.toml", "--airflow", "2 m/s"], '--airflow: found "2 m/s", a factor of at'),
    (["point", "lamp.toml", "--request", "120 %"], '--request: found "120 %", a share such as'),
    (["point", "lamp.toml", "--request", "1_0"], '--request: found "1_0", a share such as'),
    (["point", "lamp.toml", "--request", "full"], '--request: found "full", a share such as'),
    (["point", "lamp.toml", "--request", "spot="], '--request: found "spot=", CHANNEL=SHARE such'),
    (["point", "lamp.toml", "--request", "spot=2"], '--request: found "2", a share such as'),
    (["point", "lamp.toml", "--request", "spot=1,spot=0"], '--request: found "spot" twice, one'),
    (["point", "lamp.toml", "--request", "spto=1"], 'lamp.toml: request: found "spto", due a'),
    (["point", "lamp.toml", "--against", "none.toml"], "none.toml: found no such file"),
    (["point", "lamp.toml", "--out", "short.toml"], "--out short.toml is a file, and a folder is"),
    (["point", "lamp.toml", "--ambeint", "1 degC"], 'no option is called "--ambeint", nearest is'),
    (["point", "lamp.toml", "touchy.toml"], 'point has no use for "touchy.toml"'),
]


@pytest.mark.parametrize(("words", "sentence"), MISTAKES, ids=[" ".join(m[0]) for m in MISTAKES])
def test_mistakes(words, sentence, folder, derate):
    """One sentence says what is wrong, status 2, nothing on standard output."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert err.rstrip("\n").split("\n")[-1].startswith(f"derate: {sentence}"), err


def test_the_status_is_the_verdict(folder, derate):
    """A cool ambient holds and gives 0; a hot one does not and gives 1; the verdict is last."""
    for ambient, due, word in (("0 degC", 0, "Holds at rest"), ("55 degC", 1, "Too hot at rest")):
        status, out, err = derate("point", "lamp.toml", "--ambient", ambient)
        assert status == due, err
        last = " ".join(out.rstrip().split("\n\n")[-1].split())
        assert last.startswith(f"{word} in {ambient}: ")
        assert max(map(len, out.split("\n"))) <= 80


def test_the_request_counts(folder, derate):
    """A share may be a plain number or a percentage, and less of it is cooler."""
    junctions_c = []
    for share in ("1", "50 %", "0.5"):
        document = json.loads(derate("point", "lamp.toml", "--request", share, "--json")[1])
        junctions_c.append(document["channels"][0]["junction_c"])
    assert junctions_c[1] == junctions_c[2] < junctions_c[0]


def test_each_channel_may_have_a_request(folder, derate):
    """Channels get their shares by name, and one that is not named is dark."""
    asked = ("point", "lamp.toml", "--json", "--request")
    both = json.loads(derate(*asked, "flood=40 %, spot=1")[1])
    assert both["requests"] == {"flood": 0.4, "spot": 1.0}
    assert [one["duty"] for one in both["channels"]] == [0.4, 1.0]
    assert json.loads(derate(*asked, "spot=0.5")[1])["requests"] == {"flood": 0.0, "spot": 0.5}


def test_progress_is_for_terminals_alone(folder, derate, monkeypatch):
    """On a terminal one line tells what is being done and is wiped; elsewhere nothing does."""
    plain = derate("point", "lamp.toml", "--out", "o")[2]
    assert "\r" not in plain
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    shown = derate("point", "lamp.toml", "--out", "o")[2]
    assert re.search(r"\rderate: looking for the derating curve \.\.\. +\r", shown)
    assert re.search(r"\rderate: trying half the resistance of link .+? \.\.\. +\r", shown)
    assert re.search(r"\rderate: drawing how fast it warms \.\.\. +\r +\r", shown)
    kept = [line.split("\r")[-1] for line in shown.split("\n")]
    assert kept == plain.split("\n")


@pytest.mark.parametrize(("given", "due"), [(None, "1"), ("3", "3")])
def test_linear_algebra_takes_one_thread(folder, derate, monkeypatch, given, due):
    """One, unless the user's own surroundings ask for another number."""
    monkeypatch.setenv(LINEAR_ALGEBRA, given or "")
    if given is None:
        monkeypatch.delenv(LINEAR_ALGEBRA)
    derate("--version")
    assert os.environ[LINEAR_ALGEBRA] == due


def test_the_airflow_counts(folder, derate):
    """Still air is hotter than moving air."""
    sinks_c = []
    for airflow in ("0", "2"):
        document = json.loads(derate("point", "lamp.toml", "--airflow", airflow, "--json")[1])
        sinks_c.append({one["name"]: one["temperature_c"] for one in document["nodes"]}["sink"])
    assert sinks_c[1] < sinks_c[0]


def test_json_is_alone_on_standard_output(folder, derate):
    """--json prints one document, which holds the command, and agrees with the status."""
    status, out, _ = derate("point", "lamp.toml", "--ambient", "10 degC", "--json")
    document = json.loads(out)
    assert document["holds"] is (status == 0)
    assert document["ambient_c"] == 10.0
    assert document["provenance"]["command"].startswith("derate point lamp.toml --ambient")


def test_out_gets_the_page(folder, derate):
    """--out writes page, figures, curve and summary; the summary is what --json prints."""
    _, out, err = derate("point", "lamp.toml", "--out", "o", "--json")
    names = {path.name for path in (folder / "o").iterdir()}
    assert {"point.html", "summary.json", "derating.csv", "path.svg", "helps.png"} <= names
    assert (folder / "o" / "summary.json").read_text(encoding="utf-8") == out
    assert "point.html among them" in err


def test_against_another_lamp(folder, derate):
    """Both lamps stand side by side, by their names, in table and document."""
    _, out, _ = derate("point", "lamp.toml", "--against", "touchy.toml")
    assert re.search(r"permitted here +[\d.]+ %, \d+ lm +[\d.]+ %, \d+ lm", out)
    document = json.loads(derate("point", "lamp.toml", "--against", "touchy.toml", "--json")[1])
    sides = document["comparison"]
    assert sides["this"]["permitted"] > sides["other"]["permitted"]
    assert document["provenance"]["against"] == "touchy.toml"


def test_an_interrupt_leaves_nothing(folder, derate, monkeypatch):
    """Ctrl-C while the point is solved: status 130, no folder, nothing printed."""
    from derate.study import point

    real = point.study_point

    def pressed(*given, **more):
        signal.raise_signal(signal.SIGINT)
        return real(*given, **more)

    monkeypatch.setattr(point, "study_point", pressed)
    status, out, err = derate("point", "lamp.toml", "--out", "o")
    assert (status, out) == (130, "")
    assert err.endswith("derate: interrupted\n")
    assert not (folder / "o").exists()


@pytest.mark.parametrize(
    ("slope", "words", "flag"),
    [
        ("-1.6 mV/K", "Far too hot at rest in 25 degC; ", "too_hot"),
        ("20 mV/K", "Runs away in 25 degC; ", "runaway"),
    ],
)
def test_no_rest_is_exceeded(slope, words, flag, folder, derate):
    """A lamp without a rest gives status 1 and says why; its document holds no NaN."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    text = text.replace('resistance = "11 K/W"', 'resistance = "9000 K/W"')
    text = text.replace('resistance = "14 K/W"', 'resistance = "9000 K/W"')
    text = re.sub(r'forward_voltage_slope = "[^"]*"', f'forward_voltage_slope = "{slope}"', text)
    (folder / "wrapped.toml").write_text(text, encoding="utf-8")
    status, out, _ = derate("point", "wrapped.toml")
    assert status == 1
    assert out.rstrip().split("\n\n")[-1].startswith(words)
    stability = json.loads(derate("point", "wrapped.toml", "--json")[1])["stability"]
    assert [name for name in ("too_hot", "runaway") if stability[name]] == [flag]


def test_the_readme_shows_this_point(folder, derate):
    """What the README shows of the starter at rest is what is printed, in that order."""
    shown = README.split("derate point my_lamp.toml", 1)[1].split("```\n", 1)[1]
    shown = shown.split("\n\nIt tells", 1)[0]
    told = " ".join(derate("point", "lamp.toml", "--request", "80 %")[1].split())
    at = 0
    for piece in shown.split("    ...\n"):
        at = told.index(" ".join(piece.split()), at)
