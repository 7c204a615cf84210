"""Sentences about surfaces outside the ranges of their correlations."""

import pytest

from derate.lamp.profile import Profile
from derate.plant.surface.doubts import doubts_of_surfaces
from tests.plant.surface.invented import BOX, FAN, FINS, GIVEN, PLATE, WET, with_surfaces

SMALL = PLATE | {"size_m": (0.02, 0.02)}
CASES = {
    "small plate down": (SMALL | {"facing": "down"}, "small for its correlation"),
    "huge plate": (PLATE | {"size_m": (20.0, 1.0)}, "large for its correlation"),
    "storm in water": (
        PLATE | WET | {"size_m": (5.0, 1.0), "airflow_m_per_s": 40.0},
        "fast for its correlation",
    ),
    "low fins": (FINS | {"fin_height_m": 0.003}, "deeper than wide"),
    "hanging fins": (FINS | {"facing": "down"}, "estimated at 50% of that of standing ones"),
    "dense lying fins": (
        FINS | {"facing": "up", "fins": 25, "fin_thickness_m": 1e-3},
        "outside the correlation of lying fins",
    ),
    "plastic in a stream": (
        FINS | WET | {"material": "abs_plastic", "airflow_m_per_s": 0.2},
        "does not spread across fins",
    ),
    "turbulent": (FINS | {"airflow_m_per_s": 20.0}, "is turbulent"),
    "short and wide": (
        FINS | {"size_m": (0.01, 0.05), "airflow_m_per_s": 2.0},
        "much like lone plates",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_range_that_is_left_is_told(name):
    """One sentence led by the key of the surface."""
    part, told = CASES[name]
    said = doubts_of_surfaces(with_surfaces(**{name: part}))
    assert sum(told in sentence for sentence in said) == 1, said
    assert all(s.startswith(f"surfaces.{name.replace(' ', '_')}: ") for s in said)


def test_usual_surfaces_are_not_doubted():
    """A given surface, an upright plate, upright fins with and without airflow or fan."""
    usual = {
        "given": GIVEN,
        "plate": PLATE,
        "up": PLATE | {"facing": "up"},
        "fins": FINS,
        "wind": FINS | {"airflow_m_per_s": 2.0},
        "fan": FINS | {"fan": FAN},
    }
    assert doubts_of_surfaces(with_surfaces(**usual)) == []


def test_a_box_tells_its_floor_once():
    """Only the face that looks down is too small for its correlation."""
    said = doubts_of_surfaces(with_surfaces(box=BOX))
    assert len(said) == 1
    assert "looking down" in said[0]


def test_an_ambient_outside_the_tables_is_told():
    """A profile hotter or colder than the tables, with what is done then."""
    lamp = with_surfaces(fins=FINS, bath=FINS | WET, given=GIVEN)
    profiles = {
        "usual": Profile(duration_s=60.0, ambient=20.0),
        "oven": Profile(duration_s=60.0, ambient={"ambient": 130.0, "sea": 20.0}),
        "boil": Profile(duration_s=60.0, ambient={"ambient": 20.0, "sea": 90.0}),
    }
    said = doubts_of_surfaces(lamp.model_copy(update={"profiles": profiles}))
    assert len(said) == 2
    assert said[0].startswith("surfaces.fins: profile oven leads ambient ambient")
    assert said[1].startswith("surfaces.bath: profile boil leads ambient sea from 90 to 90 degC")
