"""`derate faults` tries every fault; its status says whether control holds what it ought to."""

import json

import pytest

from derate.limits import early, fault_matrix
from derate.limits.fault_kinds import MOMENTS
from tests.report.invented_faults import invented_faults

MISTAKES = [
    (["faults"], "the following arguments are required: LAMP; see `derate faults --help`"),
    (["faults", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["faults", "lamp.toml", "--workers", "0"], '--workers: found "0", a whole number from 1 to'),
]
FILES = {"summary.json", "faults.html"} | {
    f"{name}.{kind}" for name in ("matrix", "trip", "rates") for kind in ("svg", "png")
}
LAMP = """
[lamp]
name = "Test spot"
note = "Invented data."
[emitters.white]
current = ["100 mA", "1 A"]
forward_voltage = ["2.7 V", "3.1 V"]
radiant_flux = ["120 mW", "1.1 W"]
luminous_flux = ["38 lm", "340 lm"]
forward_voltage_slope = "-2 mV/K"
junction = ["25 degC", "125 degC"]
radiant_ratio = ["100 %", "87 %"]
luminous_ratio = ["100 %", "85 %"]
junction_to_solder_resistance = "3 K/W"
resistance_convention = "real"
junction_capacitance = "8 mJ/K"
[channels.spot]
emitter = "white"
series = 3
current = "1 A"
junction_limit = "78 degC"
solder_point = "board"
[nodes.board]
capacitance = "8 J/K"
[nodes.sink]
capacitance = "20 J/K"
[[links]]
name = "paste"
between = ["board", "sink"]
resistance = "0.8 K/W"
[[links]]
between = ["sink", "ambient"]
resistance = "12 K/W"
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
[controller]
cutoff = "85 degC"
safe_duty = "10 %"
max_jump = "10 K"
clear_after = "1 s"
stuck = { drive = "10 %", off = "10 s", within = "30 s", rise = "2 K", below = "85 degC" }
policy = { kind = "foldback", start = "50 degC", end = "70 degC", floor = "10 %" }
[cutouts.fuse]
at = "board"
kind = "one-shot"
trip = "68 degC"
tolerance = "3 K"
[profiles.on]
duration = "1 min"
ambient = "30 degC"
request = { spot = 1.0 }
"""


@pytest.fixture
def lamps(folder, monkeypatch):
    """A lamp whose faults do not latch; few units are drawn for early detection."""
    monkeypatch.setattr(early, "UNITS", 6)
    (folder / "lamp.toml").write_text(LAMP, encoding="utf-8")
    return folder


@pytest.mark.parametrize(("words", "sentence"), MISTAKES, ids=[" ".join(m[0]) for m in MISTAKES])
def test_mistakes(words, sentence, lamps, derate):
    """One sentence says what is wrong, status 2, nothing on standard output."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert err.rstrip("\n").split("\n")[-1].startswith(f"derate: {sentence}"), err


def test_a_flag_that_is_let_go_fails(lamps, derate):
    """Without latch a jump is forgotten and the wrong reading believed: status 1, and files."""
    status, out, _ = derate("faults", "lamp.toml", "--workers", "1", "--out", "out", "--json")
    document = json.loads(out)
    assert (status, document["held"]) == (1, False)
    assert document["verdict"].startswith(
        "Exceeded where thermal control ought to hold: thermistor jumps 20 K low (steady,"
    )
    rows = {row["fault"]: row["moments"] for row in document["faults"]}
    assert rows["thermistor jumps 20 K low"]["steady"]["let_go"]
    assert not any(rows["spot stuck on"][moment]["held"] for moment in MOMENTS)
    assert all(rows["spot stuck on"][moment]["saved"]["margin_k"] > 0 for moment in MOMENTS)
    assert document["cutouts"]["stays_closed_in_service"]
    assert {path.name for path in (lamps / "out").iterdir()} == FILES


def test_what_is_beyond_control_is_no_failure(lamps, derate, monkeypatch):
    """Status 0 where every limit held that control ought to hold."""
    monkeypatch.setattr(fault_matrix, "study_faults", lambda *_, **__: invented_faults())
    status, out, _ = derate("faults", "lamp.toml")
    assert status == 0
    assert out.rstrip().endswith("thermal control: spot stuck on.")
