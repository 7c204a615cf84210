"""The search finds the burst after a cool-down, makes it simple, and replays it."""

import dataclasses

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp import Lamp
from derate.limits.challenge import Wanted, challenge
from derate.limits.rising import not_rising
from derate.limits.space import space_of
from derate.loop import hunting
from derate.report.challenge_words import light_words, told, verdict
from tests.limits.lamps import late_lamp
from tests.loop.lamps import spot

BETWEEN_C = 62.0
"""A limit that the lamp keeps from cold and does not keep after it was off for a while."""
EXACT_K = 1e-9
"""Batch and timeline are the same arithmetic."""
LITTLE = Wanted(effort=16)
VARYING = {
    "interface": {"of": ["links.interface.resistance"], "spread": "20 %"},
    "evening": {"of": ["ambient"], "spread": "6 K"},
}


@pytest.fixture(scope="module")
def burst():
    """The late lamp, challenged."""
    return challenge(late_lamp(limit_c=BETWEEN_C), LITTLE)


def test_the_burst_is_found(burst):
    """From cold the limit holds; hot, off and on again passes it: that is the counterexample."""
    assert burst.ways["full from cold"].margin_k > 1.0
    assert burst.ways["hot, off, full again"].margin_k < -1.0
    assert burst.passed
    assert not burst.holds


def test_it_is_made_simple(burst):
    """Three pieces are left, full, off and full, for round times; little of the excess is lost."""
    assert [piece.requests for piece in burst.found.history.pieces] == [(1.0,), (0.0,), (1.0,)]
    assert all(piece.lasts_s % 5.0 == 0.0 for piece in burst.found.history.pieces)
    assert burst.found.margin_k <= burst.worst.margin_k + 0.15 * -burst.worst.margin_k


def test_it_replays(burst):
    """The timeline gives what the search found."""
    assert burst.differs_k <= EXACT_K
    assert burst.margin_k == pytest.approx(burst.found.margin_k, abs=EXACT_K)


def test_it_is_told_in_a_sentence(burst):
    """Ambient, history, place, temperature and time; the verdict says that it rests on a search."""
    assert told(burst).startswith("ambient 25 degC, ")
    assert " off, full: junction of spot 6" in told(burst)
    assert verdict(burst).startswith(f"Counterexample (search, {burst.histories} histories): ")
    assert "7.4 % is just noticeable" in light_words(burst)


def test_the_seed_decides():
    """The same seed gives the same finding; a lamp far from its limits has no counterexample."""
    lamp = late_lamp()
    first, again = (challenge(lamp, dataclasses.replace(LITTLE, seed=5)) for _ in range(2))
    assert first.found.history == again.found.history
    assert (first.histories, first.margin_k) == (again.histories, again.margin_k)
    assert first.holds
    assert "No counterexample found" in verdict(first)
    assert "no proof" in verdict(first)


def test_the_worst_unit_in_the_worst_ambient():
    """Corners of the tolerances are searched, and the ambient reaches as far as tolerances go."""
    lamp = late_lamp(limit_c=BETWEEN_C + 2.5, tolerances=VARYING)
    study = challenge(lamp, dataclasses.replace(LITTLE, guard_k=0.0))
    assert study.space.hottest_c["ambient"] == pytest.approx(31.0)
    unit = study.found.surroundings.unit
    assert study.passed
    if unit.scores:
        assert unit.scores["interface"] > 0.0
    corners = [one for one in study.ways.values() if one.surroundings.unit.scores]
    nominal = study.ways["hot, off, full again"]
    assert min(one.margin_k for one in corners) < nominal.margin_k


def test_faults_are_searched_where_asked_for():
    """A stuck sensor brings a cold lamp over its limit, which no history does without it."""
    lamp = late_lamp(limit_c=85.0)
    assert challenge(lamp, LITTLE).holds
    study = challenge(lamp, dataclasses.replace(LITTLE, faults=("sensor stuck",), first=True))
    assert study.passed
    assert study.found.history.faults[0].kind == "sensor stuck"
    assert "sensor stuck (ntc) from the start" in told(study)


def test_what_is_found_is_kept_when_it_is_stopped():
    """Stopped after some histories the search tells the worst of those, and that it was stopped."""
    asked = iter([*[False] * 4, *[True] * 1000])
    study = challenge(late_lamp(), LITTLE, stop=lambda: next(asked))
    assert study.cut_short == "stopped"
    assert 1 <= study.histories < 6
    assert np.isfinite(study.margin_k)


def test_a_guard_and_spans_of_ones_own():
    """What is asked for replaces what the file spans, and margins below the guard are told."""
    study = challenge(
        late_lamp(), Wanted(effort=1, ambient_c=(30.0, 30.0), guard_k=90.0, first=True)
    )
    assert study.found.surroundings.ambient_c(study.space) == {"ambient": 30.0}
    assert study.passed
    assert "90 K are asked for" in verdict(study)
    with pytest.raises(InputError, match="found 30 and 20, due the lowest first"):
        space_of(late_lamp(), ambient_c=(30.0, 20.0))


def test_hunting_counts_where_it_is_asked_about(monkeypatch):
    """A lamp that hunts holds its limits, and is a counterexample once light is asked about."""
    monkeypatch.setattr(hunting, "examine", lambda *_, **__: None)  # its cause takes seconds
    steps = {"kind": "steps", "levels": [{"at": 45.0, "limit": 0.2}], "hysteresis": 0.2}
    study = challenge(late_lamp(controller__policy=steps), Wanted(effort=1))
    assert study.holds
    assert study.seen.period_s is not None
    light = dataclasses.replace(study, wanted=dataclasses.replace(study.wanted, light=True))
    assert not light.holds
    assert "Counterexample of the light" in verdict(light)


def test_heat_that_does_not_rise_is_told():
    """Where more current means less heat, the search says what then does not hold."""
    raw = spot(driver={"dimming": "current"})
    assert not_rising(Lamp.model_validate(raw)) == ()
    raw["emitters"]["white"]["radiant_flux"] = [0.12, 0.6, 2.4]
    (sentence,) = not_rising(Lamp.model_validate(raw))
    assert sentence.startswith("the heat of emitter white does not rise from 0.5 A to 1 A")
