"""All of one sensor at once, with a lamp and without."""

import math

import pytest

import derate
from derate.errors import InputError
from derate.lamp import load, starter_text
from derate.sensing.bare import table
from derate.sensing.description import chain_words, ohm_words, trip_words, window_words
from derate.sensing.study import Wanted, study_lamp
from derate.sensing.threshold import Threshold

BARE = {
    "thermistor": {"b_value": "3950 K", "resistance_25": "10 kohm", "range": ["-20 degC", 110]},
    "divider": {
        "arrangement": "pull-up",
        "resistor": "10 kohm",
        "supply": "3.3 V",
        "reference": "ratiometric",
    },
    "adc": {"bits": 10},
}
"""An invented sensor as a lamp file would write it."""
ERROR_K = 0.2


@pytest.fixture(scope="module")
def lamp(tmp_path_factory):
    """The starter lamp, from a file."""
    path = tmp_path_factory.mktemp("lamp") / "my_lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    return load(path)


@pytest.fixture(scope="module")
def bare():
    """A thermistor without a lamp."""
    return table(BARE, max_error="0.2 K", threshold="85 degC", interest=(20.0, "100 degC"))


def test_a_thermistor_without_a_lamp(bare):
    """Text and numbers are taken alike; the table keeps to its error, the threshold is a code."""
    assert derate.table is table
    assert bare.table.error_k <= ERROR_K
    assert bare.wanted.threshold_c == 85.0
    assert bare.interest_c == (20.0, 100.0)
    assert bare.threshold.direction == "<="
    assert not bare.source


def test_its_own_heat_does_not_count_unless_asked(bare):
    """Without a thermal resistance nothing heats the thermistor; with one its own power does."""
    heated = table({**BARE, "resistance": "500 K/W", "capacitance": "10 mJ/K"}, max_error=ERROR_K)
    heat_k = [
        max(part.worst_high_k)
        for study in (bare, heated)
        for part in study.budget.contributions
        if part.name == "self-heating"
    ]
    assert heat_k[0] < 1e-3 < heat_k[1]


def test_the_first_sensor_of_a_lamp_is_the_default(lamp):
    """A lamp's study names lamp, file and hash, and counts the lamp's whole current."""
    study = study_lamp(lamp, wanted=Wanted(max_error_k=ERROR_K))
    assert study.name == "ntc"
    assert study.source["lamp_file"] == "my_lamp.toml"
    assert study.source["lamp_sha256"] == lamp.sha256
    full_a = sum(channel.current_a for channel in lamp.channels.values())
    assert study.situation.current_a == full_a
    assert study.interest_c == study.range_c == (-40.0, 125.0)


def test_another_width_of_the_converter(lamp):
    """``bits`` stands in for the width in the file, and nothing else changes."""
    study = study_lamp(lamp, bits=10, wanted=Wanted(max_error_k=ERROR_K))
    assert study.circuit.transfer.full_scale == 1024
    assert study.sensor.divider == lamp.sensors["ntc"].divider


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: table({**BARE, "adc": {"bits": 99}}), "ntc: adc.bits: found 99"),
        (lambda: table(BARE, max_error="0.2"), 'max_error: found "0.2", due a quantity in K'),
        (lambda: table(BARE, threshold="85 K/W"), 'threshold: found "85 K/W"'),
        (lambda: table(BARE, threshold=300.0), "threshold of 300 degC"),
    ],
    ids=["bits", "no unit", "wrong unit", "beyond the range"],
)
def test_mistakes_are_sentences(call, told):
    """What is wrong in a call is told as in a lamp file."""
    with pytest.raises(InputError) as error:
        call()
    assert told in str(error.value)


def test_an_unknown_sensor_is_named(lamp):
    """The sentence lists the sensors there are."""
    with pytest.raises(InputError, match='"x"; due is one of ntc'):
        study_lamp(lamp, "x")


@pytest.mark.parametrize(
    ("ohm", "text"), [(4700.0, "4.7 kohm"), (100.0, "100 ohm"), (1.5e6, "1.5 Mohm")]
)
def test_resistances_in_words(ohm, text):
    """As an engineer says them."""
    assert ohm_words(ohm) == text


def test_the_chain_in_one_line(bare):
    """Thermistor, divider, reference and width of the converter."""
    line = chain_words(bare.sensor, bare.circuit)
    assert line == "10 kohm at 25 degC (B 3950 K), pull-up 10 kohm, ratiometric, 10 bit"


def test_windows_say_where_they_fire(bare):
    """The open window fires in the cold, the other in the heat; with a pull-up open is high."""
    window = bare.table.window
    opened, shorted = window_words(window)
    assert opened.startswith(f"codes from {window.high_code} on, fires below ")
    assert shorted.startswith(f"codes up to {window.low_code}, fires above ")
    assert window_words(window._replace(open_fires_c=math.nan))[0].split(", ")[1] == "fires never"


@pytest.mark.parametrize(
    ("low_c", "high_c", "told"),
    [
        (83.0, 88.0, "units trip between 83.0 and 88.0 degC"),
        (-math.inf, 88.0, "any temperature up to 88.0 degC"),
        (83.0, math.inf, "some units within their tolerances never trip"),
    ],
)
def test_trips_in_words(low_c, high_c, told):
    """Also where some unit never trips, or always."""
    assert told in trip_words(Threshold(85.0, 400, "<=", 85.1, low_c, high_c, 980, ">="))
