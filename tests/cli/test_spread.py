"""`derate spread` runs units and says by its status whether one passes a limit."""

import csv
import json
import os
import re
import signal
from pathlib import Path

import pytest

from derate.lamp import load
from derate.loop.run import run
from derate.study.spread_units import Job, Units

SIMS = Path(__file__).parents[2] / "sims"
EXACT_K = 1e-9
"""Batch and timeline are the same arithmetic."""
PROFILE = """
duration = "90 s"
ambient = { at = ["0 s", "30 s"], value = ["27 degC", "29 degC"], between = "line" }
airflow = { at = ["0 s", "20 s"], value = [1.0, 0.1] }
request = { low_beam = "100 %", high_beam = "80 %" }
start = "48 degC"
"""
MISTAKES = [
    (["spread"], "the following arguments are required: LAMP; see `derate spread --help`"),
    (["spread", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["spread", "cycle.toml", "--units", "0"], '--units: found "0", a whole number from 1 to'),
    (["spread", "cycle.toml", "--guard", "3"], '--guard: found "3", a temperature difference'),
    (["spread", "cycle.toml", "--profile", "x"], 'cycle.toml: profile: found "x", due a profile'),
    (["spread", "cycle.toml", "--workers", "0"], '--workers: found "0", a whole number from 1'),
    (
        ["spread", "cycle.toml", "--workers", "2", "--cluster", "x"],
        "--cluster: not allowed with argument --workers",
    ),
    (["spread", "cycle.toml", "--unist", "3"], 'no option is called "--unist", nearest is "--u'),
]


@pytest.fixture
def lamps(folder):
    """Beside the usual ones the first demo lamp, and one whose housing may be but warm."""
    text = (SIMS / "cycle_front_lamp.toml").read_text(encoding="utf-8")
    warm = text.replace('limit = "65 degC"', 'limit = "53.9 degC"')
    assert warm != text
    (folder / "cycle.toml").write_text(text, encoding="utf-8")
    (folder / "warm.toml").write_text(warm, encoding="utf-8")
    (folder / "ride.toml").write_text(PROFILE, encoding="utf-8")
    return folder


@pytest.mark.parametrize(("words", "sentence"), MISTAKES, ids=[" ".join(m[0]) for m in MISTAKES])
def test_mistakes(words, sentence, lamps, derate):
    """One sentence says what is wrong, status 2, nothing on standard output."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert err.rstrip("\n").split("\n")[-1].startswith(f"derate: {sentence}"), err


def test_the_status_is_the_verdict(lamps, derate):
    """No unit over gives 0, some over give 1; 80 columns, the verdict last."""
    for name, due, word in (("cycle", 0, "Held: none of 40"), ("warm", 1, "Exceeded: ")):
        status, out, err = derate(
            "spread", f"{name}.toml", "--profile", "ride.toml", "--units", "40"
        )
        assert status == due, out + err
        last = " ".join(out.rstrip().split("\n\n")[-1].split())
        assert last.startswith(word)
        assert max(map(len, out.split("\n"))) <= 80


def test_json_is_alone_on_standard_output(lamps, derate):
    """--json prints one document, which agrees with the status and tells what N units show."""
    words = ("spread", "warm.toml", "--profile", "ride.toml", "--units", "40", "--json")
    status, out, _ = derate(*words)
    document = json.loads(out)
    over = document["over"]
    assert (status, document["held"]) == (1, False)
    assert 0 < over["over"] < over["drawn"] == document["units"] == 40
    assert over["low"] < over["over"] / 40 < over["high"]
    assert document["provenance"]["command"] == "derate " + " ".join(words)
    housing = document["places"][2]
    assert housing["over"]["over"] == over["over"]
    assert housing["peak_c"]["worst"] == pytest.approx(53.9 - document["margin_k"]["worst"])


def test_worst_units_replay(lamps, derate):
    """The file of a worst unit gives the same peaks in a run; so says every digit of the study."""
    from derate.lamp import profile_of

    status, out, err = derate(
        "spread", "cycle.toml", "--profile", "ride.toml", "--units", "40", "--seed", "5",
        "--out", "out",
    )  # fmt: skip
    assert status == 0, err
    again = re.search(r"run again +derate run (worst_\d+\.toml) --seed 5", out)[1]
    with (lamps / "out" / "units.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 40
    worst = sorted(rows, key=lambda row: float(row["margin_k"]))[0]
    assert again == f"worst_{int(worst['unit']):04d}.toml"
    assert len(list((lamps / "out").glob("worst_*.toml"))) == 5
    nominal = load("cycle.toml")
    job = Job(nominal, profile_of(nominal, "ride.toml")[1], 5)
    for path in (lamps / "out").glob("worst_*.toml"):
        lamp = load(path)
        (peaks_c,) = Units(job).figures([lamp.title.unit]).peak_c
        merit = run(lamp, seed=5).merit
        found = [one.peak_junction_c for one in merit.channels.values()]
        found.append(merit.nodes["housing"].peak_c)
        assert found == pytest.approx(peaks_c.tolist(), abs=EXACT_K)
    status, _, err = derate("spread", f"out/{again}")
    assert status == 2
    assert "a lamp whose units differ" in err


def test_profiles_of_the_lamp_file_replay(lamps, derate):
    """A profile that stands in the lamp file, with a fault in it, is written out as well."""
    text = (lamps / "cycle.toml").read_text(encoding="utf-8")
    short = text.replace('"12 min"', '"20 s"').replace('"6 min"\nuntil = "8 min"', '"6 s"')
    (lamps / "short.toml").write_text(short, encoding="utf-8")
    words = ("--profile", "thermistor_breaks", "--units", "6", "--out", "out")
    assert derate("spread", "short.toml", *words)[0] == 0
    path = next((lamps / "out").glob("worst_*.toml"))
    lamp = load(path)
    assert list(lamp.profiles) == ["thermistor_breaks"]
    assert lamp.profiles["thermistor_breaks"].events[0].kind == "sensor open"
    status, out, _ = derate("run", str(path), "--json")
    with (lamps / "out" / "units.csv").open() as file:
        rows = {int(row["unit"]): row for row in csv.DictReader(file)}
    row = rows[lamp.title.unit]
    margin_k = min(one["margin_k"] for one in json.loads(out)["nodes"].values())
    assert status == 0
    assert float(row["margin_k"]) == pytest.approx(margin_k, rel=1e-7)


def test_the_page(lamps, derate):
    """The page stands alone: figures, cautions, source, nothing from elsewhere, no NaN."""
    derate("spread", "warm.toml", "--profile", "ride.toml", "--units", "150", "--out", "out")
    page = (lamps / "out" / "spread.html").read_text(encoding="utf-8")
    assert page.count("<figure>") == 3
    for word in ("independent hardware cut-out", "Invented data", "Which tolerance", "exact"):
        assert word in page
    assert not re.search(
        r"\bnan\b|<script|https?://(?!www\.w3\.org|purl\.org|creativecommons)", page
    )
    names = {path.name for path in (lamps / "out").iterdir()}
    assert {"summary.json", "units.csv", "histogram.svg", "importance.png", "scatter.svg"} <= names


def test_ctrl_c_keeps_what_is_done(lamps, derate, monkeypatch):
    """After Ctrl-C the units that have run are told, the files are there, and the status is 130."""
    figures = Units.figures

    def interrupted(self, units):
        os.kill(os.getpid(), signal.SIGINT)
        return figures(self, units)

    monkeypatch.setattr(Units, "figures", interrupted)
    monkeypatch.setattr(Units, "share", 8)
    words = ("--profile", "ride.toml", "--units", "40", "--out", "out")
    status, out, err = derate("spread", "cycle.toml", *words)
    assert status == 130
    assert "8 of 40 units" in out
    assert "Held: none of 8 units" in out
    assert "derate: stopped: these are 8 of the 40 units asked for" in err
    assert (lamps / "out" / "spread.html").exists()
