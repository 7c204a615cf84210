"""``derate tune`` as a user meets it: answers, files, and refusals."""

import json
import os
import signal
import threading

import pytest

from derate.firmware.header import settings_header
from derate.lamp import load
from derate.report.tune_files import changed_text

LAMP = """
[lamp]
name = "Invented pocket lamp"
note = "Invented data."

[emitters.white]
current = ["100 mA", "500 mA", "1 A"]
forward_voltage = ["2.7 V", "2.9 V", "3.1 V"]
radiant_flux = ["120 mW", "600 mW", "1.1 W"]
luminous_flux = ["38 lm", "190 lm", "340 lm"]
forward_voltage_slope = "-2 mV/K"
junction = ["25 degC", "75 degC", "125 degC"]
radiant_ratio = ["100 %", "94 %", "87 %"]
luminous_ratio = ["100 %", "93 %", "85 %"]
junction_to_solder_resistance = "3 K/W"
resistance_convention = "real"
junction_capacitance = "8 mJ/K"

[channels.spot]
emitter = "white"
series = 3
current = "1 A"
junction_limit = "120 degC"
solder_point = "board"

[nodes.board]
capacitance = "20 J/K"
limit = "70 degC"  # a hand may touch it

[[links]]
between = ["board", "ambient"]
resistance = "9 K/W"

[sensors.ntc]
at = "board"
resistance = "20 K/W"
capacitance = "50 mJ/K"
thermistor = { b_value = "3950 K", resistance_25 = "10 kohm", range = ["-30 degC", "125 degC"] }
adc = { bits = 12 }

[sensors.ntc.divider]
arrangement = "pull-up"
resistor = "4.7 kohm"
supply = "3.3 V"
reference = "ratiometric"

[timing]
control_period = "1 s"
adc_period = "1 s"

[controller]
body = "c"
cutoff = "100 degC"
safe_duty = "10 %"
attack = "20 %/s"  # slow enough

[controller.policy]
kind = "foldback"
start = "45 degC"  # to be tuned
end = "60 degC"

[profiles.on]
duration = "5 min"
ambient = "35 degC"
request = { spot = "100 %" }
"""
KEEP = ("--keep", "floor,hysteresis,attack,hold,release,filter_shift", "--step", "1")
BUDGET = ("--budget", "3")


@pytest.fixture
def pocket(folder):
    """A lamp of one node that needs its light held back."""
    (folder / "pocket.toml").write_text(LAMP, encoding="utf-8")
    return folder


def test_it_writes_what_it_found(pocket, derate):
    """Lamp file with its comments, header, page and state hold the settings that JSON tells."""
    status, out, err = derate(
        "tune", "pocket.toml", *KEEP, *BUDGET, "--write", "--header", "settings.h",
        "--out", "out", "--resume", "state.json", "--json",
    )  # fmt: skip
    assert status == 0, err
    told = json.loads(out)
    assert told["held"]
    assert told["recommended"]["margin_k"] >= told["asked"]["guard_k"] == 3.0
    text = (pocket / "pocket.toml").read_text(encoding="utf-8")
    for row in told["settings"]:
        name = row["key"].rpartition(".")[2]
        assert f'{name} = "{row["tuned"]}"' in text
        assert row["header"].rpartition(" ")[2] in (pocket / "settings.h").read_text()
    assert "# to be tuned" in text
    assert "# slow enough" in text
    lamp = load(pocket / "pocket.toml")
    code = (pocket / "settings.h").read_text().partition("#ifndef")[2]
    assert settings_header(lamp).partition("#ifndef")[2] == code
    page = (pocket / "out" / "tune.html").read_text(encoding="utf-8")
    assert told["reason"].partition(".")[0] in page
    assert "cut-out" in page
    assert (pocket / "out" / "trade.svg").exists()
    assert (pocket / "out" / "moved.png").exists()
    assert json.loads((pocket / "state.json").read_text())["known"]


def test_a_lamp_that_cannot_be_held_has_status_1(pocket, derate):
    """Nothing is written where no setting keeps the limits, and the verdict says so."""
    status, out, err = derate(
        "tune", "pocket.toml", "--least-light", "95 %", "--budget", "2", "--write"
    )
    assert status == 1
    assert "No setting holds the limits" in out
    assert "wrote no settings" in err
    assert (pocket / "pocket.toml").read_text(encoding="utf-8") == LAMP


def test_ctrl_c_keeps_the_best_so_far(pocket, derate):
    """The first Ctrl-C ends the search: what was found is told, as not checked, and kept."""
    timer = threading.Timer(4.0, os.kill, (os.getpid(), signal.SIGINT))
    timer.start()
    status, out, err = derate(
        "tune", "pocket.toml", "--budget", "600", "--resume", "state.json", "--write"
    )
    timer.cancel()
    assert status == 130
    assert "stopped before its time" in err
    assert "not checked" in out or "stopped" in out
    assert (pocket / "pocket.toml").read_text(encoding="utf-8") == LAMP
    assert json.loads((pocket / "state.json").read_text())["form"] == "derate tune 2"


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--keep", "strat"), 'keep: found "strat", due one of start, end, floor'),
        (("--corners", "all"), 'found "all", one of likely, extreme, none is due'),
        (("--guard", "2"), 'found "2", a difference such as "2 K" is due'),
        (("--step", "120 %"), 'found "120 %", a share such as "7.4 %" is due'),
        (("--resume", "pocket.toml"), "due a file that --resume wrote"),
        (("--resume", "none/state.json"), "found no folder none"),
        (("--profile", "off"), "due a profile file or one of on"),
    ],
)
def test_mistakes_are_told_in_one_sentence(pocket, derate, words, sentence):
    """Bad options end with status 2 and say what is due."""
    status, out, err = derate("tune", "pocket.toml", *BUDGET, *words)
    assert status == 2
    assert sentence in err
    assert out == ""
    assert "Traceback" not in err


def test_comments_and_order_stay_when_settings_are_written():
    """Only the values change; keys that were not there stand at the end of their table."""
    settings = {
        "controller.policy.start": "50.5 degC",
        "controller.policy.floor": "12 %",
        "controller.filter_shift": 3,
        "controller.attack": "20 %/s",
    }
    text = changed_text(LAMP, settings)
    assert 'start = "50.5 degC"  # to be tuned\nend = "60 degC"\nfloor = "12 %"\n' in text
    assert 'attack = "20 %/s"  # slow enough\nfilter_shift = 3\n' in text
    kept = [line for line in text.splitlines() if line in LAMP.splitlines()]
    assert len(kept) == len(LAMP.splitlines()) - 1
