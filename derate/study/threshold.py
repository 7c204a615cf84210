"""The reading beside the junctions: at which reading does a junction meet its limit?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ReadingCurve:
    """Rests along one variable, ``varied``: "ambient" (at full request) or "request" (here).

    ``value`` (n): ambient [degC] or common request [0..1]; ``reading_c`` (n) [degC] of an ideal
    chain; ``junction_c`` (n, channels) [degC]: hottest junction of each, ripple included. Rows
    without a rest are left out.
    """

    varied: str
    value: Array
    reading_c: Array
    junction_c: Array


@dataclass(frozen=True)
class ReadingAtLimit:
    """Where a channel's junction meets its limit along a curve.

    ``value``: ambient [degC] or request; ``reading_c`` [degC]: what the sensor reads there.
    """

    channel: str
    varied: str
    value: float
    reading_c: float


@dataclass(frozen=True)
class ThresholdRelation:
    """One sensor's reading against the hottest junctions, at rest.

    ``at_limit``: only channels that meet their limit along the curve are listed.
    """

    sensor: str
    channels: tuple[str, ...]
    curves: tuple[ReadingCurve, ...]
    at_limit: tuple[ReadingAtLimit, ...]
