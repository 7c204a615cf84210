"""Tuning against brute force, and what becomes of it where nothing is found."""

import dataclasses
import itertools

import pytest

from derate.errors import InputError
from derate.firmware.quantise import controller_fields, policy_fields
from derate.loop.batch import Batch
from derate.loop.ready import Specimen
from derate.loop.run import run
from derate.report.tune_words import setting_rows
from derate.study.tune import Wanted, tune
from derate.study.tune_memory import Memory, hash_of
from derate.study.tune_search import search
from derate.study.tune_seeker import Seeker
from derate.study.tune_space import space_of
from derate.study.tune_trial import Figures, Goal, OutOfTimeError, Trials
from derate.study.tune_visibility import Seen
from tests.study.tuned import KEPT, one_node

GENERATIONS = 12
WANTED = Wanted(guard_k=2.0, step=1.0, keep=KEPT, generations=GENERATIONS, budget_s=1e6)
"""Two thresholds are searched; the time is never what ends the search."""
KEPT_AROUND = ("attack", "hold", "release", "filter_shift")
START, SOFT = "controller.policy.start", "controller.policy.soft"
GRID_LIGHT = 2e-3
"""On the grid of 1 K light lies at most this below the best between its points."""
SAME = 1e-9
"""The two clocks agree to rounding."""


def tuned(lamp, wanted=WANTED, **how):
    """A lamp tuned for all its profiles."""
    return tune(lamp, dict(lamp.profiles), wanted, **how)


@pytest.fixture(scope="module")
def found():
    """The one-node lamp, tuned."""
    return tuned(one_node())


def by_force(lamp, guard_k):
    """The most light of all thresholds on a grid of kelvins, each run for itself."""
    settings = [
        {"controller.policy.start": f"{start} degC", "controller.policy.end": f"{end} degC"}
        for start in range(50, 70)
        for end in (start + 1, start + 3, start + 9)
    ]
    batch = Batch(lamp, lamp.profiles["on"])
    found = batch.run([Specimen(0, lamp, lamp.with_changes(one)) for one in settings])
    light = found.light_lm_s.sum(axis=1) / found.asked_lm_s.sum(axis=1)
    return float(light[found.margin_k >= guard_k].max(initial=0.0))


@pytest.mark.slow
def test_it_finds_what_brute_force_finds(found):
    """No thresholds on a grid give more light with the guard kept."""
    best = by_force(one_node(), WANTED.guard_k)
    assert 0.3 < best < 0.99
    assert found.chosen.figures.light >= best - GRID_LIGHT
    assert found.chosen.figures.margin_k >= WANTED.guard_k


def test_the_timeline_says_the_same(found):
    """The recommended settings do on the timeline what they did in the batch."""
    merit = run(found.firmware, "on").merit
    (check,) = found.checks
    assert check.agrees
    assert check.margin_k == pytest.approx(merit.nodes["board"].margin_k, abs=SAME)
    assert found.chosen.figures.margin_k == pytest.approx(check.margin_k, abs=SAME)
    assert found.chosen.figures.light == pytest.approx(merit.share_of_request, abs=SAME)
    assert found.holds
    assert found.enough


def test_light_and_margin_are_traded(found):
    """Along the front less light means more margin, and nothing that was tried beats it."""
    lights = [one.figures.light for one in found.margins]
    margins = [one.figures.margin_k for one in found.margins]
    assert lights == sorted(lights, reverse=True)
    assert margins == sorted(margins)
    for other in found.others:
        assert any(
            one.figures.light >= other.light and one.figures.margin_k >= other.margin_k
            for one in found.margins
        )


OWN_POLICY = """
from typing import NamedTuple

class Cautious(NamedTuple):
    start_c: float
    slope_per_k: float
    names: str = "no quantity"

    def begin(self):
        return ()

    def limit(self, state, reading_c, period_s):
        return max(0.0, min(1.0, 1.0 - self.slope_per_k * (reading_c - self.start_c))), state
"""


def test_a_policy_of_ones_own(tmp_path, monkeypatch):
    """Settings of a class in Python are searched by their units; one that holds back more holds."""
    (tmp_path / "tuned_policy.py").write_text(OWN_POLICY)
    monkeypatch.chdir(tmp_path)
    own = {"kind": "tuned_policy:Cautious", "start": "60 degC", "slope": "3 %/K", "names": "x"}
    changes = {"controller.body": "python", "controller.policy": own, "profiles.on.duration": 60.0}
    lamp = one_node().with_changes(changes)
    space = space_of(lamp, lamp.profiles.values(), keep=KEPT_AROUND)
    assert [(dial.key, dial.sort) for dial in space.dials] == [
        ("controller.policy.start", "temperature"),
        ("controller.policy.slope", "gain"),
    ]
    assert space.present["controller.policy.slope"] == pytest.approx(0.03)
    trials = Trials(lamp, {"on": Batch(lamp, lamp.profiles["on"])}, ())
    early, late = (space.settings(space.places({**space.present, START: c})) for c in (40.0, 80.0))
    found = trials.figures([early, late])
    assert found[0].margin_k > found[1].margin_k + 1.0
    assert found[0].light < found[1].light


def test_a_policy_of_ones_own_is_told_without_a_header(tmp_path, monkeypatch):
    """A whole tuning of a class in Python ends with settings that hold, and with words."""
    (tmp_path / "tuned_policy.py").write_text(OWN_POLICY)
    monkeypatch.chdir(tmp_path)
    own = {"kind": "tuned_policy:Cautious", "start": "50 degC", "slope": "5 %/K"}
    lamp = one_node().with_changes({"controller.body": "python", "controller.policy": own})
    wanted = Wanted(step=1.0, keep=KEPT_AROUND, generations=3, budget_s=1e6)
    tuning = tuned(lamp, wanted)
    assert tuning.holds
    assert [(row.name, row.header) for row in setting_rows(tuning)] == [
        ("start", ""),
        ("slope", ""),
    ]


def test_the_clock_is_looked_at_within_a_population(monkeypatch):
    """Out of time, a search leaves the rest of its candidates, and what was run is kept."""
    monkeypatch.setattr("derate.study.tune_trial.AT_FIRST", 2)
    monkeypatch.setattr("derate.study.tune_trial.BETWEEN_LOOKS_S", 0.0)
    lamp, looks = one_node(duration_s=20.0), []
    trials = Trials(lamp, {"on": Batch(lamp, lamp.profiles["on"])}, ())

    def late():
        looks.append(1)
        return len(looks) > 3

    trials.late = late
    space = space_of(lamp, lamp.profiles.values(), keep=KEPT)
    ended = search(space, trials, Goal(2.0), seed=1, first={})
    assert (ended.generations, ended.finished, ended.cut) == (0, False, True)
    assert len(trials.tried) == 2 + 3
    with pytest.raises(OutOfTimeError):
        trials.looked([next(iter(trials.tried))])


def test_a_search_cut_short_is_gone_on_with(monkeypatch):
    """Cut within its generations by the clock, a tuning is the same when told from its memory."""
    monkeypatch.setattr("derate.study.tune_trial.BETWEEN_LOOKS_S", 0.0)
    monkeypatch.setattr("derate.study.tune_trial.AT_FIRST", 1)
    hours = itertools.count()
    monkeypatch.setattr(Seeker, "passed_s", property(lambda seeker: float(next(hours))))
    lamp, kept = one_node(duration_s=100.0), []
    wanted = dataclasses.replace(WANTED, budget_s=120.0)
    memory = Memory(hash_of(lamp, lamp.profiles, wanted), wanted.budget_s, kept.append)
    first = tuned(lamp, wanted, memory=memory)
    again = Memory(memory.inputs, wanted.budget_s)
    again.recall(kept[-1], "state.json")
    second = tuned(lamp, wanted, memory=again)
    assert 20 < first.tried < 120
    assert second.chosen.settings == first.chosen.settings
    assert second.tried == first.tried


def test_what_is_tuned_is_what_the_header_holds(found):
    """The words of the file are the integers of the header, without rounding in between."""
    said = dict(found.chosen.settings)
    fields = {field.name: field.value for field in policy_fields(found.firmware)}
    for key in ("start", "end"):
        number = float(said[f"controller.policy.{key}"].removesuffix(" degC"))
        assert fields[f"{key}_centi_c"] == round(100 * number)
        assert number * 10 == pytest.approx(round(number * 10))


def test_settings_of_any_place_are_words_that_the_header_holds():
    """Each bound of each setting becomes words of the lamp file that the C has integers for."""
    lamp = one_node()
    space = space_of(lamp, lamp.profiles.values())
    for place in (0, 1):
        settings = dict(space.settings([dial.bounds[place] for dial in space.dials]))
        fields = {f.name: f.value for f in controller_fields(lamp.with_changes(settings))}
        attack = float(settings["controller.attack"].removesuffix(" %/s"))
        assert fields["attack_q31"] == round(min(1.0, attack / 100.0) * 2**31)
        assert fields["hold_steps"] == float(settings["controller.hold"].removesuffix(" s"))
        assert fields["filter_shift"] == settings["controller.filter_shift"]


def test_going_on_gives_the_same_as_one_go(found):
    """Stopped after some generations and resumed, the search ends where it would have."""
    lamp = one_node()
    kept, asked = [], []

    def stop():
        asked.append(1)
        return len(asked) > 8

    memory = Memory(hash_of(lamp, lamp.profiles, WANTED), WANTED.budget_s, kept.append)
    first = tuned(lamp, memory=memory, stop=stop)
    assert first.interrupted
    assert first.tried < found.tried
    again = Memory(memory.inputs, WANTED.budget_s)
    again.recall(kept[-1], "state.json")
    second = tuned(lamp, memory=again)
    assert second.chosen == found.chosen
    assert second.margins == found.margins
    assert second.tried == found.tried
    assert second.runs < found.runs


def test_stopped_it_tells_the_best_so_far():
    """After Ctrl-C there are settings, marked as not checked, and no work goes on."""
    asked = []

    def stop():
        asked.append(1)
        return len(asked) > 5

    found = tuned(one_node(), stop=stop)
    assert found.interrupted
    assert found.chosen is not None
    assert found.checks == ()


def test_a_memory_of_another_question_is_refused():
    """Figures of another guard, lamp or profile must not be mixed in."""
    lamp = one_node()
    memory = Memory(hash_of(lamp, lamp.profiles, WANTED), 1.0)
    other = Memory(hash_of(one_node(limit_c=80.0), lamp.profiles, WANTED), 1.0)
    with pytest.raises(InputError, match="another lamp, profile or question"):
        other.recall(memory.plain(), "state.json")
    with pytest.raises(InputError, match="due a file that --resume wrote"):
        other.recall([1, 2], "state.json")


def test_a_lamp_that_no_setting_holds_is_told_so():
    """With a floor that alone is too hot there is nothing to recommend, and the closest is told."""
    wanted = Wanted(step=1.0, least_light=0.9, generations=3, budget_s=1e6)
    found = tuned(one_node(limit_c=50.0), wanted)
    assert found.chosen is None
    assert not found.holds
    assert found.closest.figures.margin_k < 0.0


def test_a_policy_without_settings_is_refused():
    """There is nothing to tune in a lamp without a policy."""
    lamp = one_node(policy={"kind": "none"})
    with pytest.raises(InputError, match=r'policy.kind: found "none", due a policy with settings'):
        space_of(lamp, lamp.profiles.values())


@pytest.mark.parametrize(
    "policy",
    [
        {"kind": "pi", "setpoint": 60.0, "gain": 0.05, "integral": 0.001, "floor": 0.1},
        {"kind": "steps", "hysteresis": 3.0,
         "levels": [{"at": 50.0, "limit": 0.7}, {"at": 60.0, "limit": 0.3}]},
    ],
    ids=["pi", "steps"],
)  # fmt: skip
def test_every_policy_with_settings_can_be_tuned(policy):
    """Regulators and steps too end with settings that keep the guard."""
    found = tuned(one_node(policy=policy), Wanted(step=1.0, generations=4, budget_s=1e6))
    assert found.chosen is not None
    assert found.chosen.figures.margin_k >= found.goal.guard_k
    assert found.holds


def test_limits_come_before_light_and_light_before_nothing():
    """The cost of settings first counts what is lacking of the limits, then of what is seen."""
    goal = Goal(2.0, step=0.1)
    hot, seen = Figures(1.0, 0.9, None), Figures(3.0, 0.8, Seen(step=0.3))
    good, dark = Figures(3.0, 0.5, Seen(step=0.05)), Figures(3.0, 0.4, Seen(step=0.05))
    costs = [goal.cost(one) for one in (good, dark, seen, hot)]
    assert costs == sorted(costs)
    assert len(set(costs)) == len(costs)


def test_a_predictive_policy_is_searched_by_its_own_settings():
    """Band, guard and floor are what it has, each written as the lamp file says them."""
    lamp = one_node(policy={"kind": "predictive", "band": 5.0, "guard": 2.0, "floor": 0.1})
    space = space_of(lamp, lamp.profiles.values(), keep=("attack", "hold", "release"))
    names = [dial.key.rpartition(".")[2] for dial in space.dials]
    assert names == ["band", "guard", "floor", "filter_shift"]
    soft = one_node(policy={"kind": "predictive", "band": 5.0, "soft": 20.0, "guard": 2.0})
    space_with = space_of(soft, soft.profiles.values())
    assert dict(space_with.settings(space_with.places(space_with.present)))[SOFT] == "20.0 K"
    said = dict(space.settings(space.places(space.present)))
    assert said["controller.policy.band"] == "5.0 K"
    assert said["controller.policy.guard"] == "2.0 K"


def test_a_floor_is_never_raised_and_never_below_what_is_asked():
    """A floor heats in places hotter than the profiles too; less than asked serves nobody."""
    lamp = one_node()
    for least, bounds in ((0.0, (0.0, 0.1)), (0.05, (0.05, 0.1)), (0.3, (0.3, 0.3))):
        space = space_of(lamp, lamp.profiles.values(), least_light=least)
        (floor,) = (dial for dial in space.dials if dial.key == "controller.policy.floor")
        assert floor.bounds == bounds
