"""The reading beside the junctions: at which reading does a junction meet its limit?"""

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from derate.study.crossing import crossing
from derate.study.derating import EXACT_C, EXACT_SHARE, raster
from derate.study.operating import Operating

Array = NDArray[np.float64]

AMBIENT_STEP_C, SHARE_STEP = 5.0, 0.05


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


def thresholds(
    lamp: Operating, ambient_c: float, low_c: float, high_c: float
) -> tuple[ThresholdRelation, ...]:
    """The relation for each sensor; the ambient is varied from ``low_c`` to ``high_c`` [degC]."""
    ways = {
        "ambient": raster(low_c, high_c, AMBIENT_STEP_C, [ambient_c]),
        "request": raster(0.0, 1.0, SHARE_STEP, []),
    }
    return tuple(
        ThresholdRelation(
            name,
            tuple(lamp.lamp.channels),
            tuple(_curve(lamp, sensor, ambient_c, way, grid) for way, grid in ways.items()),
            tuple(
                found
                for way, grid in ways.items()
                for found in _at_limits(lamp, sensor, ambient_c, way, grid)
            ),
        )
        for sensor, name in enumerate(lamp.lamp.sensors)
    )


def _point(varied: str, value: float, ambient_c: float) -> tuple[float, float]:
    """Share of the command and ambient [degC] of a point of a curve."""
    return (1.0, value) if varied == "ambient" else (value, ambient_c)


def _curve(
    lamp: Operating, sensor: int, ambient_c: float, varied: str, grid: list[float]
) -> ReadingCurve:
    rests = [(value, lamp.at(*_point(varied, value, ambient_c))) for value in grid]
    rests = [(value, rest) for value, rest in rests if not rest.runaway]
    channels = len(lamp.lamp.channels)
    return ReadingCurve(
        varied,
        np.array([value for value, _ in rests]),
        np.array([lamp.readings_c(rest)[sensor] for _, rest in rests]),
        np.array([rest.peak_c[list(lamp.hottest(rest).values())] for _, rest in rests]).reshape(
            -1, channels
        ),
    )


def _at_limits(
    lamp: Operating, sensor: int, ambient_c: float, varied: str, grid: list[float]
) -> list[ReadingAtLimit]:
    """Where each channel's hottest junction passes its limit between the ends of ``grid``."""
    exact = EXACT_C if varied == "ambient" else EXACT_SHARE
    found = []
    for name, channel in lamp.lamp.channels.items():
        nodes = lamp.resting.junctions[name]

        left_k = partial(_left_k, lamp, ambient_c, varied, nodes, channel.junction_limit_c)
        between = crossing(left_k, grid[0], grid[-1], exact=exact)
        if between is not None:
            rest = lamp.at(*_point(varied, between[0], ambient_c))
            reading_c = float(lamp.readings_c(rest)[sensor])
            found.append(ReadingAtLimit(name, varied, between[0], reading_c))
    return found


def _left_k(
    lamp: Operating,
    ambient_c: float,
    varied: str,
    nodes: NDArray[np.int64],
    limit_c: float,
    value: float,
) -> float:
    """How far the hottest of ``nodes`` is below ``limit_c`` [K]; -inf without a rest."""
    rest = lamp.at(*_point(varied, value, ambient_c))
    return -np.inf if rest.runaway else limit_c - float(rest.peak_c[nodes].max())
