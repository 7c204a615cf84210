"""Colours and shared limits of the invented operating point: a cool and a warm white."""

from derate.study.colour_point import Colour, ColourPoint
from derate.study.sharing import COMMON, HELD, Shared
from derate.study.white import White

COLOUR = ColourPoint(
    channels={
        "cool": Colour((0.3130, 0.3290), (0.1979, 0.4680), White(6490.0, 0.0031)),
        "warm": Colour((0.4370, 0.4040), (0.2500, 0.5200), White(3001.0, -0.0004)),
    },
    asked=Colour((0.3750, 0.3700), (0.2240, 0.4970), White(4080.0, -0.0021)),
    mix=Colour((0.3700, 0.3690), (0.2212, 0.4962), White(4231.0, -0.0008)),
    shift=0.0029,
)
SHARED = (
    Shared(COMMON, {"cool": 0.9, "warm": 0.9}, 2900.0, "junction.cool.4", 99.5, 0.0, 0.0027),
    Shared(HELD, {"cool": 0.84, "warm": 0.97}, 2874.0, "junction.cool.4", 98.9, 0.0, 0.0),
)
