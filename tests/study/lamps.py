"""Lamps for the tests of this room: the demo lamps, and one of every kind of part."""

import functools
from pathlib import Path

from derate.lamp import Lamp, load
from derate.study.operating import Operating
from tests.loop.lamps import SPOT, spot

SIMS = Path(__file__).parents[2] / "sims"
LUMPED = ("cycle_front_lamp", "hand_lamp", "stage_wash", "hunting_spot")
DRAWN = "keyring_colours"
"""Demo lamps given by their network, and one given by its drawing."""
COARSE = {"board.cell": "1 mm", "board.accuracy": "10 %"}
"""Wide cells and a rough transient: the rest is as exact as ever, and quickly found."""
SURFACES = {
    "fins": {
        "of": "sink",
        "kind": "fins",
        "size": [0.08, 0.06],
        "fins": 7,
        "fin_height": 0.02,
        "fin_thickness": 0.0015,
        "material": "aluminium_6061",
        "emissivity": 0.8,
    },
    "lid": {"of": "sink", "kind": "plate", "size": [0.06, 0.05], "facing": "up", "emissivity": 0.9},
    "bracket": {"of": "board", "kind": "given", "resistance": 40.0, "rise": 50.0},
}


@functools.cache
def demo(name):
    """A demo lamp, one given by its drawing with wide cells."""
    lamp = load(SIMS / f"{name}.toml")
    return lamp if lamp.board is None else lamp.with_changes(COARSE)


def made(**tables):
    """The small spot of the loop's tests with whole tables of the lamp file replaced or added."""
    return Lamp.model_validate(spot(**tables))


def shedding(**tables):
    """The small spot without links to the air: fins, a lid and a known surface shed its heat."""
    return made(links=SPOT["links"][:1], surfaces=SURFACES, **tables)


def operating(lamp, airflow=1.0, **requests):
    """The lamp ready to be asked, at full request of all channels unless told otherwise."""
    return Operating(lamp, airflow, requests or dict.fromkeys(lamp.channels, 1.0))
