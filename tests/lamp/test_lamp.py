"""The lamp in Python: what its parts give, and changing it key by key."""

import pytest
from pydantic import ValidationError

from derate.errors import InputError
from derate.lamp import Channel, Event, Foldback, Lamp, Pi, Profile, Steps, Thermistor, Timing


def test_the_starter_says_that_it_is_invented(starter):
    """Nobody can take the starter's numbers for those of a real part."""
    assert "invented" in starter.name.lower()
    assert "invented" in starter.title.note.lower()


def test_numbers_are_taken_in_the_named_unit():
    """From Python a plain number counts in the unit of the field's name; text works as well."""
    policy = Foldback(start_c=50, end_c="80 degC")
    assert (policy.start_c, policy.end_c) == (50.0, 80.0)


def test_a_lamp_is_frozen(starter):
    """What has been checked cannot be changed behind the checks."""
    with pytest.raises(ValidationError, match="frozen"):
        starter.controller.cutoff_c = 300.0


@pytest.mark.parametrize("number", [float("nan"), float("inf"), True, None, 1j], ids=repr)
def test_what_is_no_finite_number_is_refused(number):
    """Python code cannot bring in values a file could not hold."""
    with pytest.raises(ValidationError, match="a temperature such as"):
        Foldback(start_c=number, end_c=80)


def test_the_adc_follows_control_unless_told():
    """Left out, the ADC's period is the control period."""
    assert Timing(control_period_s=0.25).adc_period_s == 0.25
    assert Timing(control_period_s=0.25, adc_period_s=0.1).adc_period_s == 0.1
    assert Timing().adc_period_s == Timing().control_period_s


def test_solder_points_and_offsets_cover_every_emitter():
    """One entry stands for all, several are taken branch by branch."""
    rest = {"emitter": "e", "series": 2, "parallel": 2, "current_a": 1.0, "junction_limit_c": 100}
    assert Channel(**rest, solder_point="n").solder_points == ("n",) * 4
    assert Channel(**rest, solder_point=list("abcd")).solder_points == tuple("abcd")
    assert Channel(**rest, solder_point="n", forward_voltage_offset_v=0.1).offsets_v == (0.1, 0.1)


LEVELS = [{"at": "60 degC", "limit": 0.6}, {"at": "70 degC", "limit": 0.3}]
STEPS = {
    "no fall": ({"levels": [LEVELS[0], {"at": 70, "limit": 0.6}], "hysteresis": 2}, "than the 0.6"),
    "no rise": ({"levels": LEVELS[::-1], "hysteresis": 2}, "more than the 70 degC"),
    "too wide": ({"levels": LEVELS, "hysteresis": 11}, "at most the 10 K"),
    "no levels": ({"levels": [], "hysteresis": 1}, "at least one level"),
}


@pytest.mark.parametrize(("settings", "due"), STEPS.values(), ids=STEPS.keys())
def test_steps_that_make_no_sense_are_refused(settings, due):
    """Levels rise in temperature and fall in limit, hysteresis fits between them."""
    with pytest.raises(ValidationError, match=due):
        Steps(**settings)


def test_a_regulator_without_gain_is_refused():
    """Something must act."""
    with pytest.raises(ValidationError, match="above zero"):
        Pi(setpoint_c=70, gain_per_k=0, integral_per_k_s=0)


COLD, WARM, HOT = ("0 degC", "32 kohm"), ("50 degC", "3.6 kohm"), ("100 degC", "684 ohm")
THERMISTORS = {
    "one point": ({"points": [COLD]}, "two or more pairs"),
    "two points for three terms": (
        {"points": [COLD, HOT], "model": "steinhart-hart"},
        "3 or more pairs, as the model is steinhart-hart",
    ),
    "three points for four terms": (
        {"points": [COLD, WARM, HOT], "model": "polynomial"},
        "4 or more pairs, as the model is polynomial",
    ),
    "model without points": (
        {"steinhart_hart": [1.129e-3, 2.341e-4, 8.775e-8], "model": "b-value"},
        "no model, as there are no points or table",
    ),
    "unknown model": ({"points": [COLD, HOT], "model": "spline"}, "'b-value' or 'table'"),
    "table of points within the range": (
        {"points": [COLD, WARM, HOT], "model": "table"},
        "a range within the points, 0 to 100 degC",
    ),
    "three coefficients for four": ({"polynomial": [1e-3, 2e-4, 1e-7]}, "four coefficients"),
    "polynomial that rises": (
        {"polynomial": [3.354e-3, -2.56e-4, 2.5e-6, 1.05e-7], "resistance_25_ohm": 1e4},
        "a curve whose resistance falls",
    ),
    "ratio coefficients without the ratio": (
        {"polynomial": [3.354e-3, 2.56e-4, 2.5e-6, 1.05e-7]},
        "a curve whose resistance falls",
    ),
    "resistance alone": (
        {"points": [COLD, HOT], "resistance_25_ohm": 1e4},
        "both b_value and resistance_25",
    ),
    "same point twice": ({"points": [COLD, COLD, HOT]}, "temperatures that differ"),
    "rising": ({"points": [COLD, ("50 degC", "40 kohm"), HOT]}, "falls as temperature rises"),
    "bent": ({"points": [COLD, ("50 degC", "700 ohm"), HOT]}, "a curve whose resistance falls"),
    "two coefficients": ({"steinhart_hart": [1e-3, 2e-4]}, "three coefficients"),
    "rising with heat": (
        {"steinhart_hart": [1.1e-3, -2.4e-4, 9e-8]},
        "a curve whose resistance falls",
    ),
    "text": ({"steinhart_hart": [1e-3, 2e-4, "c"]}, "a coefficient such as 1.1e-3"),
    "wild": ({"steinhart_hart": [1e300, 1e300, -1e300]}, "a curve whose resistance falls"),
    "pairs of three": ({"table": [COLD, ("1 degC", "2 ohm", "3 V")]}, "a pair such as"),
    "short table": ({"table": [COLD]}, "two or more pairs"),
}


@pytest.mark.parametrize(("settings", "due"), THERMISTORS.values(), ids=THERMISTORS.keys())
def test_thermistors_that_cannot_be_are_refused(settings, due):
    """A thermistor's resistance falls all over its range, between resistances that exist."""
    with pytest.raises(ValidationError, match=due):
        Thermistor(**settings)


def test_a_coefficient_may_be_zero():
    """Without the cubic term the curve is that of a B value."""
    assert Thermistor(steinhart_hart=[1.2e-3, 2.5e-4, 0]).steinhart_hart == (1.2e-3, 2.5e-4, 0.0)


def test_points_in_any_order_make_a_thermistor():
    """Three points are three points, whichever comes first."""
    assert len(Thermistor(points=[HOT, COLD, WARM]).points) == 3


EVENTS = [
    {"kind": "sensor offset", "sensor": "ntc", "offset": "5 K"},
    {"kind": "sensor stuck", "sensor": "ntc"},
    {"kind": "airflow", "factor": 0},
    {"kind": "interface degraded", "link": "paste", "factor": 2},
    {"kind": "channel stuck on", "channel": "spot"},
]


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event["kind"])
def test_an_event_needs_each_of_its_keys(event):
    """Complete, an event is accepted; without any one of its keys it is not."""
    Event(at_s=1, **event)
    for key in event:
        with pytest.raises(ValidationError):
            Event(at_s=1, **{name: value for name, value in event.items() if name != key})


def test_a_profile_knows_every_jump():
    """Jumps of all inputs and both ends of every event, within the duration."""
    profile = Profile(
        duration_s=10,
        ambient={"room": 20, "case": {"at": [0, 2], "value": [20, 30]}},
        airflow={"at": [0, 3], "value": [1, 0.5], "between": "line"},
        request={"spot": {"at": [0, 1], "value": [0, 1], "every": 4}},
        events=[
            Event(at_s=6, until_s=7, kind="airflow", factor=0.5),
            Event(at_s=0, kind="airflow", factor=1),
        ],
    )
    assert profile.jumps() == (1, 2, 4, 5, 6, 7, 8, 9)
    assert profile.ambient_courses(["room", "case"])["case"].value(3) == 30
    assert profile.least_airflow == 0.25


CHANGES = {
    "quantity": ({"controller.policy.hysteresis": "2 K"}, lambda c: c.policy.hysteresis_k == 2),
    "number": ({"controller.cutoff": 90}, lambda c: c.cutoff_c == 90),
    "key taken away": ({"controller.stuck": None}, lambda c: c.stuck is None),
    "whole table": ({"controller.policy": {"kind": "none"}}, lambda c: c.policy.kind == "none"),
    "together": (
        {"controller.policy.start": 75, "controller.policy.end": 80},
        lambda c: c.policy.end_c == 80,
    ),
}


@pytest.mark.parametrize(("changes", "holds"), CHANGES.values(), ids=CHANGES.keys())
def test_a_lamp_is_changed_key_by_key(changes, holds, starter):
    """A changed lamp differs in those keys, keeps its source, and leaves the first as it was."""
    before = starter.model_dump()
    changed = starter.with_changes(changes)
    assert holds(changed.controller)
    assert not holds(starter.controller)
    assert (changed.source, changed.sha256) == (starter.source, starter.sha256)
    assert starter.model_dump() == before
    assert changed.with_changes({}) == changed


def test_entries_of_lists_are_reached(starter):
    """A link goes by its name or by its number from zero, as other lists do."""
    changes = {"links.paste.resistance": 0.7, "links.1.resistance": "3 K/W"}
    changed = starter.with_changes(changes | {"emitters.white.radiant_ratio.0": 1.04})
    assert [link.resistance_k_per_w for link in changed.links[:2]] == [0.7, 3.0]
    assert changed.emitters["white"].radiant_ratio[0] == 1.04


REFUSED = {
    "wrong unit": ({"links.1.resistance": "3 W"}, r"links\[entry 2\]\.resistance: found \"3 W\""),
    "misspelt": ({"controller.polcy.start": 50}, r"controller\.polcy: .* due \"policy\""),
    "suffix": ({"controller.cutoff_c": 90}, r"controller\.cutoff_c: .* due \"cutoff\""),
    "no such link": ({"links.past.resistance": 1}, r"nearest is \"paste\""),
    "no such entry": ({"links.9": {}}, "due a key within a table"),
    "below a value": ({"controller.cutoff.x": 1}, "due a key within a table"),
    "checks again": (
        {"controller.policy.start": 80},
        r"controller\.policy\.end: found \"72 degC\"",
    ),
}


@pytest.mark.parametrize(("changes", "sentence"), REFUSED.values(), ids=REFUSED.keys())
def test_a_change_that_cannot_be_is_refused(changes, sentence, starter):
    """Changes are checked like a file, and told in the same kind of sentence."""
    with pytest.raises(InputError, match=sentence):
        starter.with_changes(changes)


def test_a_lamp_built_in_python_can_be_changed(starter):
    """Without a file behind it the lamp's own values are the ground of the change."""
    built = Lamp.model_validate(starter.model_dump(by_alias=True, exclude_unset=True))
    assert built.source is None
    assert built.model_dump() == starter.model_dump()
    assert built.with_changes({"links.0.resistance": 0.9}).links[0].resistance_k_per_w == 0.9


def test_the_schema_can_be_written_out():
    """The file's keys, without unit suffix, make up the schema."""
    schema = Lamp.model_json_schema()
    assert "capacitance" in schema["$defs"]["Node"]["properties"]
    assert "source" not in schema["properties"]
