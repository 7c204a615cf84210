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
COARSE_K = 0.02
"""Rounding, and the 9 temperatures at which resistors are judged against those of a budget."""


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
        (lambda: table(BARE, threshold=math.nan), "threshold: found nan, due a quantity"),
        (lambda: table(BARE, name="../x"), 'name: found "../x", due a name of small letters'),
        (lambda: table(BARE, name=None), "name: found nothing, due a name"),
        (lambda: table(None), "ntc: found nothing, due a table of keys"),
        (lambda: table("lamp.toml"), 'ntc: found "lamp.toml", due a table of keys'),
        (lambda: table({**BARE, "adc": None}), "ntc: adc: found nothing"),
        (lambda: table(BARE, interest=(100.0, 20.0)), "interest: found [100.0, 20.0], due two"),
        (lambda: table(BARE, interest=(20.0,)), "interest: found [20.0], due two"),
        (lambda: table(BARE, interest="20 degC"), 'interest: found "20 degC", due two'),
        (lambda: table(BARE, interest=(20.0, None)), "interest: found nothing, due a quantity"),
        (lambda: table(BARE, ambient_c=(40.0, 20.0)), "ambient_c: found [40.0, 20.0], due two"),
        (lambda: table(BARE, aim="price"), "aim: found 'price', due one of resolution, error"),
        (lambda: table(BARE, series="E6"), "series: found 'E6', due one of E12, E24, E96"),
    ],
)
def test_mistakes_are_sentences(call, told):
    """What is wrong in a call is told as in a lamp file."""
    with pytest.raises(InputError) as error:
        call()
    assert told in str(error.value)


def test_air_and_ramp_widen_what_is_at_worst(bare):
    """The study carries the situation asked for, and its errors are those of it."""
    leaky = {**BARE, "resistance": "10 K/W", "capacitance": "1 J/K", "to_ambient": "100 K/W"}
    calm = table(leaky, threshold=85.0)
    busy = table(leaky, threshold=85.0, ambient_c=("-20 degC", 60.0), ramp_k_per_s="0.5 K/s")
    assert busy.situation.ambient_c == (-20.0, 60.0)
    assert busy.situation.ramp_k_per_s == 0.5
    assert busy.at_worst_k[0] < calm.at_worst_k[0] - 1.0
    assert busy.at_worst_k[1] > calm.at_worst_k[1] + 1.0
    assert busy.threshold.high_c > calm.threshold.high_c + 1.0


def test_resistors_by_either_aim():
    """The best by either measure are at hand whatever the aim, which only sets the order."""
    part = {**BARE, "tolerance": {"r25": "3 %", "resistor": "1 %"}}
    keys = {"interest": (60.0, 100.0), "series": "E12"}
    finest = table(part, **keys)
    least = table(part, **keys, aim="error")
    assert finest.candidates[0] == finest.best_by_resolution
    assert least.candidates[0].resistor_ohm == least.best_by_error.resistor_ohm
    for study in (finest, least):
        usable = [one for one in study.candidates if one.refused is None]
        assert study.best_by_error.worst_error_k == min(one.worst_error_k for one in usable)
        assert study.best_by_resolution.worst_k_per_code == min(
            one.worst_k_per_code for one in usable
        )
        assert study.present.resistor_ohm == 10e3


def test_the_resistor_errs_as_the_verdict_says():
    """Over the whole range the error of the present resistor is the error at worst of the study.

    It differs by at most the table's own error, which is counted in full for every resistor.
    """
    study = table({**BARE, "tolerance": {"r25": "3 %"}})
    at_worst_k = max(-study.at_worst_k[0], study.at_worst_k[1])
    assert abs(study.present.worst_error_k - at_worst_k) <= study.table.error_k + COARSE_K


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
