"""The whole study of an operating point."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from derate.errors import InputError
from derate.lamp import Lamp
from derate.study.derating import EXACT_SHARE
from derate.study.point import study_point
from tests.loop.lamps import any_lamp
from tests.study.lamps import DRAWN, LUMPED, SPOT, demo, made, shedding

NOTHING = {"paths": (), "helps": (), "what_ifs": (), "impedances": (), "junction_helps": ()}
RUNAWAY = {
    "emitters": {"white": SPOT["emitters"]["white"] | {"forward_voltage_slope": 0.02}},
    "links": [SPOT["links"][0], {"between": ["sink", "ambient"], "resistance": 25.0}],
}


def every_number(value):
    """All numbers within a study, arrays and tables included."""
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            if field.name not in ("lamp", "board"):
                yield from every_number(getattr(value, field.name))
    elif isinstance(value, dict):
        for entry in value.values():
            yield from every_number(entry)
    elif isinstance(value, tuple | list):
        for entry in value:
            yield from every_number(entry)
    elif isinstance(value, np.ndarray):
        yield from value.ravel().tolist()
    elif isinstance(value, float | int) and not isinstance(value, bool):
        yield value


@pytest.mark.parametrize("name", [*LUMPED, DRAWN])
def test_all_of_it(name):
    """Every part is there, its own numbers agree, and the same question gives the same answer."""
    lamp = demo(name)
    study = study_point(lamp, ambient_c=20.0, airflow=0.8)
    assert [one.name for one in study.channels] == list(lamp.channels)
    assert [one.name for one in study.sensors] == list(lamp.sensors)
    assert study.requests == dict.fromkeys(lamp.channels, 1.0)
    limits = [one.margin_k for one in (*study.channels, *study.nodes) if one.margin_k is not None]
    assert study.limit.margin_k == pytest.approx(min(limits))
    assert study.holds == (min(limits) >= 0.0)
    assert study.junction.margin_k == pytest.approx(min(one.margin_k for one in study.channels))
    assert study.helps
    assert study.junction_helps
    assert study.what_ifs
    assert len(study.impedances) == len(lamp.channels)
    assert study.derating.here == pytest.approx(
        np.interp(20.0, study.derating.ambient_c, study.derating.permitted), abs=2e-3
    )
    assert study.source["lamp"] == lamp.name
    again = study_point(lamp, ambient_c=20.0, airflow=0.8)
    np.testing.assert_array_equal(list(every_number(study)), list(every_number(again)))


def test_plain_numbers():
    """Numbers outside arrays are Python's own, which any writer of JSON knows."""

    def strays(value, where):
        if dataclasses.is_dataclass(value):
            for field in dataclasses.fields(value):
                if field.name not in ("lamp", "board"):
                    yield from strays(getattr(value, field.name), f"{where}.{field.name}")
        elif isinstance(value, dict | tuple):
            for entry in value.values() if isinstance(value, dict) else value:
                yield from strays(entry, where)
        elif isinstance(value, np.generic):
            yield where

    study = study_point(shedding(), against=demo("hand_lamp"))
    assert not list(strays(study, "study"))


def test_data_sheet_air_by_default():
    """Without an ambient it is 25 degC."""
    assert study_point(made()).ambient_c == 25.0


def test_requests_by_channel():
    """A channel that is not named stays dark; one number is for all."""
    lamp = demo("cycle_front_lamp")
    study = study_point(lamp, request={"high_beam": 0.5})
    assert study.requests == {"low_beam": 0.0, "high_beam": 0.5}
    assert [one.duty for one in study.channels] == [0.0, 0.5]
    assert study.derating.mix == {"low_beam": 0.0, "high_beam": 1.0}
    assert study_point(lamp, request=0.25).channels[0].duty == 0.25


def test_a_dark_lamp():
    """Without request there is no light, no path and nothing to settle; the curves are there."""
    study = study_point(made(), request=0.0)
    assert study.power.light_lm == 0.0
    assert study.paths == ()
    assert study.settled is None
    assert study.holds
    assert study.derating.here == 1.0


def test_a_runaway():
    """It is told in a flag and a sentence; the point is nan, the curves are still there."""
    study = study_point(made(**RUNAWAY))
    assert study.stability.runaway
    assert "away" in study.stability.sentence
    assert not study.holds
    assert study.limit is None
    for name, nothing in NOTHING.items():
        assert getattr(study, name) == nothing
    assert math.isnan(study.channels[0].junction_c)
    assert math.isnan(study.sensors[0].reading_c)
    assert math.isnan(study.power.supply_w)
    assert 0.0 < study.derating.here < 1.0
    assert study.best.command[-1] < 1.0
    assert study.settled is not None


def test_beside_another_lamp():
    """The other lamp is asked at the same point; channels of other names are all at the request."""
    study = study_point(demo("hunting_spot"), against=demo("hand_lamp"), request=0.7)
    alone = study_point(demo("hand_lamp"), request=0.7)
    assert study.comparison.other.name == demo("hand_lamp").name
    assert study.comparison.other.light_lm == pytest.approx(alone.power.light_lm)
    assert study.comparison.this.light_lm == pytest.approx(study.power.light_lm)
    assert study.comparison.other.permitted == pytest.approx(alone.derating.here)
    assert study.source["against"] == "hand_lamp.toml"
    assert study_point(demo("hand_lamp")).comparison is None


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"ambient_c": -300.0}, "ambient: found -300 degC, due a temperature from"),
        ({"ambient_c": math.nan}, "ambient: found nan degC"),
        ({"airflow": -1.0}, "airflow: found -1, due a factor from 0 to 100"),
        ({"airflow": math.inf}, "airflow: found inf"),
        ({"request": 1.5}, "request: found 1.5 for spot, due a share from 0 to 1"),
        ({"request": {"spit": 1.0}}, 'request: found "spit", due a channel: spot'),
    ],
)
def test_one_sentence_for_what_is_out_of_range(asked, sentence):
    """Ambient, airflow and requests that no lamp can have are refused."""
    with pytest.raises(InputError, match=sentence.replace(".", r"\.")):
        study_point(made(), **asked)


def test_too_hot_is_no_runaway():
    """A lamp whose heat does not feed itself is not said to run away, however hot it would be."""
    links = [SPOT["links"][0], {"between": ["sink", "ambient"], "resistance": 5000.0}]
    emitter = SPOT["emitters"]["white"] | {
        "radiant_ratio": [1.0] * len(SPOT["emitters"]["white"]["radiant_ratio"]),
        "forward_voltage_slope": 0.0,
    }
    study = study_point(made(links=links, emitters={"white": emitter}))
    assert study.stability.too_hot
    assert not study.stability.runaway
    assert "away" not in study.stability.sentence.replace("no runaway", "")
    assert not study.holds
    assert study.limit is None
    assert 0.0 < study.derating.here < 1.0
    assert study.derating.here_acting == "junction.spot.0"


def test_still_air_where_nothing_else_sheds():
    """Without airflow a lamp with no other way for its heat is as hot as the airflow is little."""
    links = [SPOT["links"][0], SPOT["links"][1]]
    study = study_point(made(links=links), airflow=0.0)
    assert not study.stability.rests
    assert study.derating.here < 0.01


def test_emitters_beyond_their_tables_are_told():
    """A junction hotter than its table is a warning that names channel and emitter."""
    study = study_point(made(links=RUNAWAY["links"]), ambient_c=60.0)
    assert any("spot" in text and "outside the table" in text for text in study.warnings)


def test_the_board():
    """Error, field, places and spreading of a lamp with a board; None without one."""
    study = study_point(demo(DRAWN), ambient_c=30.0)
    board = study.board
    assert board.error.transient <= 0.1
    hottest_c = np.nanmax(board.field.temperature_c)
    solder_c = max(one.temperature_c for one in study.nodes if one.name.startswith("solder"))
    mean_c = next(one.temperature_c for one in study.nodes if one.name == "board")
    assert mean_c < hottest_c < solder_c + 3.0
    assert board.places.advised_offset_k > 0.0
    assert [one.solder for one in board.spreading] == [
        "solder.red.1",
        "solder.green.1",
        "solder.blue.1",
    ]
    for one in board.spreading:
        assert one.model_k_per_w == pytest.approx(one.estimate_k_per_w, rel=0.2)
    assert study_point(made()).board is None


@given(
    raw=any_lamp(),
    ambient_c=st.floats(-30.0, 70.0),
    airflow=st.sampled_from([0.0, 0.3, 1.0, 2.0]),
    request=st.floats(0.0, 1.0),
)
@settings(max_examples=25)
def test_any_lamp(raw, ambient_c, airflow, request):
    """Of any lamp: one sentence, or a study whose books balance and whose derating falls."""
    try:
        lamp = Lamp.model_validate(raw)
        study = study_point(lamp, ambient_c=ambient_c, airflow=airflow, request=request)
    except (InputError, ValidationError):
        return
    assert (np.diff(study.derating.permitted) <= EXACT_SHARE).all()
    if not study.stability.rests:
        return
    assert study.power.residual_w == pytest.approx(0.0, abs=1e-7 * (1.0 + study.power.supply_w))
    for path in study.paths:
        assert sum(step.drop_k for step in path.steps) == pytest.approx(path.rise_k, abs=1e-9)
    if not study.holds:
        assert study.derating.here < request or request == 0.0
