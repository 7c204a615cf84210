"""Light and heat made straight for the linear programme of the possible.

The programme only has to find good prices: what is lost by straightening makes the bound looser
and never wrong.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.heat import correction_w
from derate.plant.kernel import direct
from derate.study.case import Case
from derate.study.glow import glow_of

Array = NDArray[np.float64]

LEAST_K: Final = 1e-3
"""Shortest range of a temperature that a line is laid through [K]."""
GRID: Final = 257
"""Temperatures of a table over the whole range."""
NEAR: Final = 0.25
"""Share of the range at its hot end along which light and heat are made straight [-]."""


class Lines(NamedTuple):
    """Of one emitter: pieces J of the duty, their width, and heat, power, light as base + slope T.

    ``base`` (3, S, J) per unit of duty, ``slope`` (3, S) per unit of duty and kelvin.
    """

    base: Array
    slope: Array


def lines_of(case: Case, c: int, g: int, offset_v: float, pieces: int) -> Lines:
    """Straight lines through the hot end of where the junction of group ``g`` can be."""
    channel, emission = case.channels[c], case.plant.machine.emission
    level = np.arange(1, pieces + 1) / pieces
    low_c, high_c = case.low_c[:, g], np.maximum(case.high_c[:, g], case.low_c[:, g] + LEAST_K)
    near_c = high_c - NEAR * (high_c - low_c)
    grid_c = np.linspace(low_c.min(), high_c.max(), GRID)
    tables = glow_of(emission, channel.kind, offset_v, level * channel.full_a / channel.parallel,
                     grid_c)  # fmt: skip
    base, slope = np.zeros((3, len(low_c), pieces)), np.zeros((3, len(low_c)))
    for what, table in enumerate(tables):
        low, high = (
            np.array([np.interp(at_c, grid_c, row) for row in table]) for at_c in (near_c, high_c)
        )
        slope[what] = (high[-1] - low[-1]) / (high_c - near_c)
        at_none = high - slope[what] * level[:, None] * high_c
        base[what] = np.diff(at_none, axis=0, prepend=0.0).T * pieces
    return Lines(base, slope)


def chords_of(case: Case) -> tuple[Array, Array]:
    """What the network carries too much beside every surface in every slot (S, surfaces).

    Base [W] and slope [W/K] of the chord over where the surface can be. The correction bends down,
    so that its chord lies below.
    """
    exchange, horizon = case.plant.machine.exchange, case.horizon
    correction = direct(correction_w, exchange, 0, 0.0, 0.0, 0.0)
    base, slope = np.zeros((2, len(horizon.airflow), len(exchange.node)))
    for s, node in enumerate(exchange.node):
        y = int(np.flatnonzero(case.node == node)[0])
        outside_c = horizon.ambient_c[:, :, exchange.ambient[s]].mean(axis=1)
        low_c, high_c = case.low_c[:, y], np.maximum(case.high_c[:, y], case.low_c[:, y] + LEAST_K)
        low, high = (
            np.array(
                [
                    correction(exchange, s, float(at), float(outside), float(flow))
                    for at, outside, flow in zip(at_c, outside_c, horizon.airflow, strict=True)
                ]
            )
            for at_c in (low_c, high_c)
        )
        slope[:, s] = (high - low) / (high_c - low_c)
        base[:, s] = low - slope[:, s] * low_c
    return base, slope
