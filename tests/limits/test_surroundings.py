"""What a lamp file says of its air, and the joint that all heat passes."""

import pytest

from derate.lamp import Lamp
from derate.limits.surroundings import joint_of, surroundings_of
from tests.limits.switched import lamp
from tests.loop.lamps import spot


def test_the_air_is_that_of_all_profiles():
    """Ambients and airflows between the extremes of the profiles, their events included."""
    event = {"kind": "airflow", "at": 10.0, "factor": 0.5}
    profiles = {
        "cold": {"duration": 60.0, "ambient": -5.0, "airflow": 2.0},
        "hot": {"duration": 60.0, "ambient": 41.0, "airflow": 0.4, "events": [event]},
    }
    around = surroundings_of(lamp().with_changes({"profiles": profiles}))
    assert (around.coldest_c, around.hottest_c) == (-5.0, 41.0)
    assert (around.least_airflow, around.most_airflow) == (0.2, 2.0)


def test_air_may_stop_where_heat_still_finds_a_way():
    """The stopped airflow is 0, or the least of the file where a node then has no way out."""
    assert surroundings_of(lamp()).stopped == 0.0
    raw = spot()
    raw["links"] = [link for link in raw["links"] if link.get("name") != "still"]
    raw["profiles"]["on"]["airflow"] = 0.3
    assert surroundings_of(Lamp.model_validate(raw)).stopped == 0.3


@pytest.mark.parametrize(("name", "found"), [("interface", "interface"), (None, None)])
def test_the_joint_is_the_named_link_that_all_heat_passes(name, found):
    """A link beside which there is no other way; one without a name cannot be degraded."""
    raw = spot()
    raw["links"][0] = {"between": ["board", "sink"], "resistance": 0.8}
    if name:
        raw["links"][0]["name"] = name
    assert joint_of(Lamp.model_validate(raw)) == found


def test_a_second_way_makes_it_no_joint():
    """Where heat can go round a link, losing that link is not losing the heat sink."""
    raw = spot()
    raw["links"].append({"between": ["board", "ambient"], "resistance": 40.0})
    assert joint_of(Lamp.model_validate(raw)) is None
