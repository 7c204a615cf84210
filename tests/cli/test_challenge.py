"""`derate challenge` tells what it found, leaves files that replay, and says it by its status."""

import json
import os
import re
import signal

import pytest

from derate.limits.trials import Trials
from tests.limits.lamps import LATE

MISTAKES = [
    (["challenge"], "the following arguments are required: LAMP; see `derate challenge --help`"),
    (["challenge", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["challenge", "late.toml", "--effort", "0"], '--effort: found "0", a whole number from 1'),
    (["challenge", "late.toml", "--faults", "opne"], '--faults: found "opne", one of open, short'),
    (
        ["challenge", "late.toml", "--ambient", "40 degC", "20 degC"],
        "late.toml: Late lamp: ambient: found 40 and 20",
    ),
    (["challenge", "late.toml", "--guard", "3"], '--guard: found "3", a difference such as "2 K"'),
]
LITTLE = ("--effort", "4", "--first")


@pytest.fixture
def lamps(folder):
    """Beside the usual lamps the late one, and one with a limit that a burst passes."""
    late = LATE.read_text(encoding="utf-8")
    varied = '[tolerances.paste]\nof = "links.interface.resistance"\nspread = "30 %"\n'
    for name, limit, more in (("late", 100, ""), ("hot", 62, ""), ("varied", 65.5, varied)):
        text = late.replace('junction_limit = "100 degC"', f'junction_limit = "{limit} degC"')
        (folder / f"{name}.toml").write_text(f"{text}\n{more}", encoding="utf-8")
    return folder


@pytest.mark.parametrize(("words", "sentence"), MISTAKES, ids=[" ".join(m[0]) for m in MISTAKES])
def test_mistakes(words, sentence, lamps, derate):
    """One sentence says what is wrong, status 2, nothing on standard output."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert err.rstrip("\n").split("\n")[-1].startswith(f"derate: {sentence}"), err


def test_the_status_is_the_verdict(lamps, derate):
    """No counterexample gives 0, one gives 1; 80 columns, the verdict last."""
    for name, due, word in (("late", 0, "No counterexample found"), ("hot", 1, "Counterexample (")):
        status, out, err = derate("challenge", f"{name}.toml", *LITTLE)
        assert status == due, out + err
        assert " ".join(out.rstrip().split("\n\n")[-1].split()).startswith(word)
        assert max(map(len, out.split("\n"))) <= 80


def test_json_is_alone_on_standard_output(lamps, derate):
    """--json prints one document that agrees with the status, and says what it rests on."""
    status, out, _ = derate("challenge", "hot.toml", *LITTLE, "--seed", "3", "--json")
    document = json.loads(out)
    assert (status, document["counterexample"], document["rests_on"]) == (1, True, "search")
    assert document["margin_k"] < 0.0
    assert document["peak_c"] == pytest.approx(document["limit_c"] - document["margin_k"])
    assert document["provenance"]["command"].startswith("derate challenge hot.toml")


def test_the_files_replay(lamps, derate):
    """Profile and unit beside the page give the very same peak in a run of their own."""
    status, out, err = derate("challenge", "varied.toml", *LITTLE, "--out", "out")
    assert status == 1, out + err
    folder = lamps / "out"
    found = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert found["found"]["scores"]["paste"] > 0.0
    words = ("--profile", str(folder / "counterexample.toml"), "--json")
    status, out, _ = derate("run", str(folder / "unit.toml"), *words)
    peak_c = json.loads(out)["channels"]["spot"]["peak_junction_c"]
    assert (status, peak_c) == (1, pytest.approx(found["peak_c"], rel=1e-9))
    page = (folder / "challenge.html").read_text(encoding="utf-8")
    assert page.count("<figure>") == 2
    for words in ("independent hardware cut-out", "Invented data", "does not prove", "run/report"):
        assert words in page
    assert not re.search(
        r"\bnan\b|<script|https?://(?!www\.w3\.org|purl\.org|creativecommons)", page
    )
    assert (folder / "run" / "report.html").exists()


def test_ctrl_c_keeps_the_worst_so_far(lamps, derate, monkeypatch):
    """After Ctrl-C the worst so far is told and written, and the status is 130."""
    tried = Trials._tried

    def interrupted(self, history, places):
        os.kill(os.getpid(), signal.SIGINT)
        return tried(self, history, places)

    monkeypatch.setattr(Trials, "_tried", interrupted)
    status, out, err = derate("challenge", "late.toml", "--out", "out")
    assert status == 130, err
    assert "stopped before its end" in err
    assert "No counterexample found (search, " in out
    assert (lamps / "out" / "counterexample.toml").exists()
