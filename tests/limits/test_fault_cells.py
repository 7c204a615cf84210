"""Faults tried on a small lamp: what is seen, what is driven, what the cut-out makes of it."""

import pytest

from derate.limits.fault_cells import Bench
from derate.limits.fault_kinds import MOMENTS, Missions, faults_of
from derate.limits.surroundings import surroundings_of
from tests.limits.switched import lamp

SAFE = 0.1
STEPS = 1 / 4096
"""The driver's resolution."""


@pytest.fixture(scope="module")
def tried():
    """A function from the name of a fault and a moment to its cell."""
    nodes = {"board": {"capacitance": 8.0}, "sink": {"capacitance": 40.0, "limit": 70.0}}
    subject = lamp({"trip": 66.0, "reset": 50.0}, nodes=nodes)
    around = surroundings_of(subject)
    missions, bench = Missions(subject, around), Bench(subject)
    faults = {fault.name: fault for fault in faults_of(subject, around)}
    return lambda name, moment: bench.cell(missions.at(moment, faults[name]))


def test_every_kind_of_fault_is_tried():
    """The matrix has a row for each sensor, cooling and channel fault, and one for none."""
    names = [fault.name for fault in faults_of(lamp(), surroundings_of(lamp()))]
    assert names == [
        "no fault",
        "thermistor open",
        "thermistor short",
        "thermistor stuck",
        "thermistor jumps 20 K low",
        "thermistor 8 K low",
        "thermistor comes loose",
        "airflow stops",
        "heat sink missing",
        "spot stuck on",
    ]


@pytest.mark.parametrize("moment", MOMENTS)
def test_an_open_thermistor_is_seen_and_leads_to_the_safe_duty(tried, moment):
    """At whatever moment, within one control period."""
    cell = tried("thermistor open", moment)
    assert 0.0 <= cell.seen_s <= 0.5
    assert cell.flag == "sensor open"
    assert cell.duty == pytest.approx(SAFE, abs=STEPS)
    assert cell.held
    assert cell.saved is None


def test_a_jump_is_let_go_unless_it_latches(tried):
    """The flag clears as the wrong reading stands still."""
    cell = tried("thermistor jumps 20 K low", "steady")
    assert cell.flag == "reading jumped"
    assert cell.let_go


def test_a_loose_thermistor_is_not_seen_and_the_cut_out_saves(tried):
    """Nothing is flagged, everything is driven, and the switch opens in time."""
    cell = tried("thermistor comes loose", "cold start")
    assert cell.seen_s is None
    assert not cell.held
    assert cell.saved.opened_s > 0.0
    assert cell.saved.margin_k > 0.0


def test_a_stuck_channel_is_driven_at_full(tried):
    """Whatever the controller says."""
    assert tried("spot stuck on", "foldback").duty == 1.0


def test_the_fault_comes_when_it_should():
    """At power-up, after settling, while light is held back, and in the dark before light."""
    subject = lamp()
    missions = Missions(subject, surroundings_of(subject))
    fault = faults_of(subject, surroundings_of(subject))[1]
    cold, steady, foldback, off = (missions.at(moment, fault) for moment in MOMENTS)
    assert cold.at_s == 0.0
    assert steady.profile.airflow.value(0.0) == 1.0
    assert foldback.profile.airflow.value(0.0) == 0.1
    assert off.profile.request["spot"].value(off.at_s) == 0.0
    assert off.profile.request["spot"].value(off.profile.duration_s) == 1.0
    for mission in (cold, steady, foldback, off):
        (event,) = mission.profile.events
        assert event.at_s == mission.at_s
        assert mission.profile.airflow.value(mission.profile.duration_s) == 0.1


def test_two_thermistors_that_disagree_are_seen():
    """What one of them cannot tell, the difference of two can: then control ought to hold it."""
    second = lamp().model_dump(mode="json", by_alias=True, exclude_unset=True)["sensors"]["ntc"]
    changes = {"sensors.second": second, "controller.disagreement": 6.0}
    subject = lamp().with_changes(changes)
    around = surroundings_of(subject)
    fault = next(one for one in faults_of(subject, around) if one.name == "second 14 K low")
    assert all(fault.ought(moment) for moment in MOMENTS)
    cell = Bench(subject).cell(Missions(subject, around).at("foldback", fault))
    assert cell.flag == "reading jumped, sensors disagree (second sensor)"
    assert not cell.let_go
    assert cell.held
