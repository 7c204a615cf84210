"""The situation a sensor is read in: air between two temperatures, LED current, ramp."""

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp import load, starter_text
from derate.sensing.budget import budget
from derate.sensing.contribution import Situation, situated, situation_of
from derate.sensing.description import situation_words
from derate.sensing.montecarlo import confirm
from tests.sensing.toleranced import exact, named

LEAKY = {"to_ambient_k_per_w": 90.0}
SHARE = 0.1
"""Of the air in the thermistor's temperature: 10 K/W to the node, 90 K/W to the air."""
SITE_C = np.array([0.0, 60.0])
TABLE_K = 1e-6


def leaky():
    """A sensor that leaks a tenth to the air, otherwise exact."""
    return exact().model_copy(update=LEAKY)


def leak(air_c):
    """Both ends of the leak [K] in air between two temperatures [degC]."""
    found = named(budget(leaky(), SITE_C, situation=Situation(ambient_c=air_c)), "leak to ambient")
    return found.worst_low_k, found.worst_high_k


def test_the_leak_ends_in_the_coldest_and_the_warmest_air():
    """A tenth of the difference to the air, at either end of it."""
    low_k, high_k = leak((-20.0, 45.0))
    np.testing.assert_allclose(low_k, -SHARE * (SITE_C + 20.0), atol=TABLE_K)
    np.testing.assert_allclose(high_k, -SHARE * (SITE_C - 45.0), atol=TABLE_K)


def test_air_of_one_temperature_is_a_bias():
    """Without a span both ends are alike, and each end of a span is such a one."""
    low_k, high_k = leak((-20.0, 45.0))
    for air_c, expected_k in ((-20.0, low_k), (45.0, high_k)):
        for end_k in leak((air_c, air_c)):
            np.testing.assert_allclose(end_k, expected_k, atol=TABLE_K)


def test_units_in_any_air_stay_inside_the_corners():
    """Drawn units meet all air between the ends, and none leaves the corners."""
    found = budget(leaky(), SITE_C, situation=Situation(ambient_c=(-20.0, 45.0)))
    units = confirm(found, units=2000)
    assert units.inside
    assert np.all(units.most_k - units.least_k > 0.95 * SHARE * 65.0)


def test_a_lamp_gives_the_air_of_all_its_profiles(tmp_path):
    """The extremes of all profiles; without any profile 25 degC."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text(), encoding="utf-8")
    lamp = load(path)
    named_c = [celsius for one in lamp.profiles.values() for celsius in one.ambients_c]
    found = situation_of(lamp)
    assert found.ambient_c == (min(named_c), max(named_c))
    assert found.ramp_k_per_s == 0.0
    assert situation_of(lamp.model_copy(update={"profiles": {}})).ambient_c == (25.0, 25.0)


def test_air_and_ramp_may_be_replaced():
    """What is given stands in; the rest stays."""
    before = Situation(current_a=2.0)
    after = situated(before, ambient_c=(10.0, 40.0), ramp_k_per_s=0.5)
    assert after == Situation(2.0, 0.5, (10.0, 40.0))
    assert situated(before) == before


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"ambient_c": (40.0, 10.0)}, "ambient: found 40 to 10 degC"),
        ({"ambient_c": (float("nan"), 10.0)}, "ambient: found nan"),
        ({"ramp_k_per_s": -1.0}, "ramp: found -1 K/s"),
        ({"ramp_k_per_s": float("nan")}, "ramp: found nan"),
    ],
)
def test_no_such_situation(keys, told):
    """Air the wrong way round and ramps below zero are refused."""
    with pytest.raises(InputError, match=told):
        situated(Situation(), **keys)


@pytest.mark.parametrize(
    ("situation", "words"),
    [
        (
            Situation(1.7, 0.5, (10.0, 40.0)),
            "air from 10 to 40 degC, full LED current of 1.7 A, ramp 0.5 K/s",
        ),
        (Situation(), "air of 25 degC, LEDs off, no ramp"),
    ],
)
def test_situations_in_words(situation, words):
    """Air, current and ramp in one line."""
    assert situation_words(situation) == words
