"""How far the parts of one sensor may lie from their printed values, and how far one's do."""

from typing import Annotated

from derate.lamp.part import Part
from derate.lamp.quantities import NOT_NEGATIVE, Lsb, Ratio, Unit, check

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


_Off = Annotated[Ratio, check(lambda ratio: -0.5 < ratio < 0.5, 'a ratio from "-50 %" to "50 %"')]
_OffDrift = Annotated[
    float,
    Unit("1/K", "per_k", 'a drift such as "100 ppm/K"'),
    check(lambda drift: abs(drift) <= LARGEST_DRIFT_PER_K, 'a drift of at most "5000 ppm/K"'),
]


class Tolerance(Part):
    """Limits to either side, as the makers state them; a part left out is taken as exact.

    ``resistor``: the fixed resistor at 25 degC, ``resistor_drift_per_k`` [1/K] its drift away
    from there. ``r25``, ``b_value``: the thermistor. ``reference``: a reference voltage of its
    own, ``supply``: the supply. ``dissipation``: the rise of the thermistor by its own heat.
    ``offset_lsb`` [LSB], ``gain``: the ADC, beyond what its own table says.
    """

    resistor: _Part = 0.0
    resistor_drift_per_k: _Drift = 0.0
    r25: _Part = 0.0
    b_value: _Part = 0.0
    reference: _Part = 0.0
    supply: _Part = 0.0
    dissipation: _Part = 0.0
    offset_lsb: Annotated[Lsb, NOT_NEGATIVE] = 0.0
    gain: _Part = 0.0


class Deviation(Part):
    """How far the parts of one unit do lie off, of which its firmware knows nothing.

    As in ``Tolerance``, but signed, and each resistor of the divider has its own.
    """

    resistor: _Off = 0.0
    resistor_drift_per_k: _OffDrift = 0.0
    series: _Off = 0.0
    series_drift_per_k: _OffDrift = 0.0
    parallel: _Off = 0.0
    parallel_drift_per_k: _OffDrift = 0.0
    r25: _Off = 0.0
    b_value: _Off = 0.0
    supply: _Off = 0.0
    reference: _Off = 0.0
    dissipation: _Off = 0.0
    offset_lsb: Lsb = 0.0
    gain: _Off = 0.0


DEVIATIONS = {
    "resistor": ("resistor", "series", "parallel"),
    "resistor_drift_per_k": ("resistor_drift", "series_drift", "parallel_drift"),
    "r25": ("r25",),
    "b_value": ("b_value",),
    "reference": ("reference",),
    "supply": ("supply",),
    "dissipation": ("dissipation",),
    "offset_lsb": ("offset",),
    "gain": ("gain",),
}
"""Fields of ``Tolerance`` to the keys of the deviations that each of them limits."""
