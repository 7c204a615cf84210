"""Invented surfaces on a lamp of the tests."""

from hypothesis import strategies as st

from derate.plant.surface.bodies import bodies_of
from tests.plant.invented import lamp

GIVEN = {"kind": "given", "resistance_k_per_w": 4.0, "rise_k": 50.0}
PLATE = {"kind": "plate", "size_m": (0.06, 0.04), "facing": "side", "emissivity": 0.9}
FINS = {
    "kind": "fins",
    "size_m": (0.06, 0.05),
    "fins": 9,
    "fin_height_m": 0.025,
    "fin_thickness_m": 0.0015,
    "material": "aluminium_6061",
    "emissivity": 0.8,
}
BOX = {"kind": "box", "size_m": (0.06, 0.05, 0.08), "emissivity": 0.9}
FAN = {"flow_m3_per_s": 15.0 / 3600.0, "pressure_pa": 25.0}
WET = {"fluid": "water", "emissivity": None}
KINDS = {
    "given": GIVEN,
    "given flat": GIVEN | {"exponent": 0.0},
    "plate": PLATE,
    "plate in wind": PLATE | {"faces": 2, "airflow_m_per_s": 3.0},
    "plate up": PLATE | {"facing": "up"},
    "plate down in wind": PLATE | {"facing": "down", "airflow_m_per_s": 1.0},
    "fins": FINS,
    "fins up": FINS | {"facing": "up"},
    "fins down": FINS | {"facing": "down"},
    "fins in wind": FINS | {"airflow_m_per_s": 2.0},
    "fins with fan": FINS | {"fan": FAN},
    "plastic fins": FINS | {"material": "abs_plastic"},
    "narrow fins": FINS | {"fins": 25, "fin_thickness_m": 0.001},
    "box": BOX,
    "box in wind": BOX | {"airflow_m_per_s": 2.0},
    "plate in water": PLATE | WET,
    "fins in a stream": FINS | WET | {"airflow_m_per_s": 0.3},
    "box in water": BOX | WET,
}
"""One surface of every sort."""
MOVED = tuple(name for name, part in KINDS.items() if {"airflow_m_per_s", "fan"} & set(part))


def with_surfaces(**surfaces):
    """A lamp with these surfaces on its sink; those in water shed into another ambient."""
    placed = {
        name.replace(" ", "_"): {
            "of": "sink",
            "to": "sea" if part.get("fluid") == "water" else "ambient",
        }
        | part
        for name, part in surfaces.items()
    }
    return lamp(surfaces=placed, ambients=("ambient", "sea"))


def body(part, **changes):
    """One surface, ready to be computed."""
    return bodies_of(with_surfaces(one=part | changes))[0]


kinds = st.sampled_from(sorted(KINDS))
rises_k = st.floats(0.01, 240.0)
ambients_c = st.floats(-40.0, 60.0)
airflows = st.one_of(st.just(0.0), st.floats(1e-4, 20.0))
