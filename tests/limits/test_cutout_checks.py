"""Both checks of a cut-out: closed in service, and enough with the controller stuck at full."""

import pytest

from derate.limits.cutout import study_cutouts
from derate.limits.cutout_alone import Stuck, cases_of, slowest
from derate.limits.cutout_service import in_service, missions_of
from derate.limits.surroundings import surroundings_of
from derate.loop.run import run
from derate.loop.units import draw, unit_lamp, unit_profile
from tests.limits.switched import lamp

OVERSHOOT_K = 0.05
"""Heat on its way from the junctions still arrives when the switch has opened."""
EXACT_K = 1e-6
"""Batch and timeline are the same arithmetic."""
TOLERANCES = {
    "joint": {"of": "links.interface.resistance", "spread": "20 %"},
    "chips": {"of": "emitters.white.junction_to_solder_resistance", "spread": "15 %"},
    "place": {"of": "ambient", "spread": "5 K"},
}


def alone(subject):
    """The worst of every place, by its name."""
    around = surroundings_of(subject)
    found = Stuck(slowest(subject), around).worst(cases_of(subject, around))
    return {one.place.name: one for one in found}


@pytest.fixture(scope="module")
def study():
    """Both checks of the test spot with tolerances."""
    subject = lamp({}, tolerances=TOLERANCES)
    return subject, study_cutouts(subject, surroundings_of(subject))


def test_its_own_place_is_no_hotter_than_the_slowest_trip():
    """With the switch on the limited node itself, that node's peak is the upper trip."""
    nodes = {"board": {"capacitance": 8.0, "limit": 90.0}}
    found = alone(lamp({"trip": 60.0, "reset": 50.0}, nodes=nodes))["board"]
    assert found.peak_c == pytest.approx(62.0, abs=OVERSHOOT_K)
    assert found.holds
    assert found.opened_s is not None


def test_a_trip_above_the_limit_is_not_enough():
    """The place passes its limit before the switch opens, and the outcome says when."""
    found = alone(lamp({"at": "sink", "trip": 91.0, "reset": 50.0}))["sink"]
    assert not found.holds
    assert found.case.airflow == 0.0
    hot = alone(lamp({"at": "sink", "trip": 300.0, "reset": 50.0}))["sink"]
    assert hot.opened_s is None
    assert hot.peak_c > found.peak_c


def test_every_place_is_cooler_with_an_earlier_trip():
    """What a lower trip leaves is never more, whatever the case."""
    late, soon = alone(lamp({})), alone(lamp({"trip": 65.0, "reset": 55.0}))
    for name, one in soon.items():
        assert one.peak_c <= late[name].peak_c + OVERSHOOT_K


def test_service_is_what_the_timeline_runs():
    """The element's peak in service is that of runs through the same missions."""
    subject = lamp({})
    around = surroundings_of(subject)
    (found,) = in_service(subject, around)
    missions = missions_of(subject, around)
    peaks_c = [run(subject, one).merit.cutouts["switch"].peak_c for one in missions.values()]
    assert found.peak_c == pytest.approx(max(peaks_c), abs=EXACT_K)
    assert found.stays_closed
    assert found.margin_k == pytest.approx(73.0 - found.peak_c, abs=EXACT_K)


def test_faults_are_no_service():
    """The events of a profile that break something are left out, what the air does stays."""
    events = [
        {"kind": "sensor open", "at": 10.0, "sensor": "ntc"},
        {"kind": "airflow", "at": 20.0, "factor": 0.5},
    ]
    subject = lamp({})
    profile = subject.profiles["on"].model_dump(mode="json", by_alias=True) | {"events": events}
    subject = subject.with_changes({"profiles": {"on": profile}})
    kinds = [event.kind for event in missions_of(subject, surroundings_of(subject))["on"].events]
    assert kinds == ["airflow"]


def test_no_drawn_unit_gets_hotter_than_the_corner(study):
    """Units drawn within the tolerances stay below what is told for the corner."""
    subject, found = study
    draws = draw(subject, range(4))
    missions = missions_of(subject, surroundings_of(subject))
    for unit in range(4):
        one = unit_lamp(subject, draws, unit)
        profile = unit_profile(missions[found.service[0].mission], draws, unit)
        assert run(one, profile).merit.cutouts["switch"].peak_c <= found.service[0].peak_c
    assert found.service[0].peak_c > found.service[0].nominal_c


def test_the_corner_is_no_better_than_the_lamp_as_it_is(study):
    """At the worse of the corners the place nearest to its limit has less margin."""
    _, found = study
    margins_k = [min(one.margin_k for one in part) for part in (found.alone, found.corner)]
    assert margins_k[1] < margins_k[0]


def test_the_window_is_where_both_checks_are_met():
    """It begins where service ends, and a trip above its end is not enough."""
    subject = lamp({"tolerance": 2.0})
    found = study_cutouts(subject, surroundings_of(subject))
    assert found.window.from_c == found.service[0].peak_c + 2.0
    for by_k, enough in ((-0.2, True), (0.2, False)):
        changes = {"cutouts.switch.trip": found.window.all_c + by_k}
        again = alone(subject.with_changes(changes))
        assert all(one.holds for one in again.values()) == enough
