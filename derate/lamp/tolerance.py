"""Tolerance: how far the parts of one sensor may lie from their printed values."""

from typing import Annotated

from derate.lamp.part import Part
from derate.lamp.quantities import Ratio, Unit, check

LARGEST_DRIFT_PER_K = 0.005
"""Drift [1/K] beyond any fixed resistor: 5000 ppm/K, that of a plain metal."""

_Part = Annotated[
    Ratio, check(lambda ratio: 0 <= ratio < 0.5, 'a ratio from 0 to below 0.5 such as "1 %"')
]
_Drift = Annotated[
    float,
    Unit("1/K", "per_k", 'a drift such as "100 ppm/K"'),
    check(lambda drift: 0 <= drift <= LARGEST_DRIFT_PER_K, 'a drift from 0 to "5000 ppm/K"'),
]


class Tolerance(Part):
    """Limits to either side, as the makers state them; a part left out is taken as exact.

    ``resistor``: the fixed resistor at 25 degC, ``resistor_drift_per_k`` [1/K] its drift away
    from there. ``r25``, ``b_value``: the thermistor. ``reference``: a reference voltage of its
    own, ``supply``: the supply. ``dissipation``: the rise of the thermistor by its own heat.
    """

    resistor: _Part = 0.0
    resistor_drift_per_k: _Drift = 0.0
    r25: _Part = 0.0
    b_value: _Part = 0.0
    reference: _Part = 0.0
    supply: _Part = 0.0
    dissipation: _Part = 0.0
