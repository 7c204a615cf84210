"""A budget tried on many units: each with parts of its own, drawn evenly within their limits.

A unit keeps its parts at every temperature; air, current, ramp, settling, noise are drawn at each.
Noise is normal, cut at the 4 sigma the budget counts. Every code goes through the firmware's table.

The root-sum-square is no 99.7 % band: it adds limits, not standard deviations. One even draw
alone reaches its limit (factor 1); many of similar size tend to a normal law whose 99.7 % lie at
2.97 / sqrt(3) = 1.71 times the root-sum-square.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.sensing.adc import Transfer, coded
from derate.sensing.budget import Budget
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import ends_of
from derate.sensing.deviation import (
    CURRENT,
    DNL,
    LEAK,
    NOISE,
    QUANTUM,
    RAMP,
    SETTLING,
    Body,
    lsb_at,
)
from derate.sensing.noise import gaussian, uniform
from derate.sensing.reading_table import readings
from derate.sensing.window import NOISE_SIGMAS

Array = NDArray[np.float64]

UNITS = 20_000
BAND = (0.0015, 0.9985)
"""Quantiles between which 99.7 % of the units lie."""


@dataclass(frozen=True, eq=False)
class Confirmation:
    """Errors [K] of ``units`` drawn units at each of ``temperatures_c`` [degC].

    ``least_k``, ``most_k``: extremes met; ``low_k``, ``high_k``: the middle 99.7 %;
    ``fault_share``: units whose code a healthy thermistor puts into a fault window, left out of
    the others. ``inside``: no unit lies beyond the corners of the budget. ``rss_factor``: half the
    99.7 % band over the budget's root-sum-square, at each temperature.
    """

    temperatures_c: Array
    least_k: Array
    low_k: Array
    high_k: Array
    most_k: Array
    fault_share: Array
    inside: bool
    rss_factor: Array
    units: int
    seed: int


def confirm(budget: Budget, *, units: int = UNITS, seed: int = 0) -> Confirmation:
    """Monte Carlo of the sensor of ``budget``, at its temperatures."""
    codes = _codes(
        budget.study.circuit,
        budget.study.body,
        ends_of(budget.study.causes),
        budget.temperatures_c,
        units,
        seed,
    )
    table = budget.study.table
    window = table.window
    found, share = np.empty((4, len(codes))), np.empty(len(codes))
    for i, (row, celsius) in enumerate(zip(codes, budget.temperatures_c, strict=True)):
        healthy = (row > window.low_code) & (row < window.high_code)
        share[i] = 1.0 - np.mean(healthy)
        found[:, i] = _spread(readings(table, row[healthy]) / table.scale - celsius)
    least_k, low_k, high_k, most_k = found
    beyond = (least_k < budget.corner_low_k) | (most_k > budget.corner_high_k)
    return Confirmation(
        budget.temperatures_c,
        least_k,
        low_k,
        high_k,
        most_k,
        share,
        not bool(np.any(beyond)),
        0.5 * (high_k - low_k) / budget.rss_k,
        units,
        seed,
    )


def _spread(errors_k: Array) -> Array:
    if len(errors_k) == 0:
        return np.full(4, np.nan)
    low_k, high_k = np.quantile(errors_k, BAND)
    return np.array([errors_k.min(), low_k, high_k, errors_k.max()])


@compiled
def _codes(
    circuit: Circuit, body: Body, ends: Array, site_c: Array, units: int, seed: int
) -> NDArray[np.int64]:
    """The code of every unit at every temperature, shape (temperatures, units)."""
    codes = np.empty((len(site_c), units), np.int64)
    places = ends.shape[0]
    moving = (LEAK, CURRENT, RAMP, SETTLING)
    parts = [at for at in range(places) if at not in moving and at not in (DNL, NOISE, QUANTUM)]
    full_scale = circuit.transfer.full_scale
    for unit in range(units):
        deviation = np.zeros(places)
        for at in parts:
            deviation[at] = _drawn(ends[at], seed, unit, 0, at)
        uneven = Transfer(
            full_scale, 0.0, 0.0, 0.0, 0.0, 1, _drawn(ends[DNL], seed, unit, 0, DNL), False
        )
        for i in range(len(site_c)):
            for at in moving:
                deviation[at] = _drawn(ends[at], seed, unit, 1 + i, at)
            sigmas = gaussian(seed, unit, 1 + i, NOISE) / NOISE_SIGMAS
            deviation[NOISE] = ends[NOISE, 1] * min(1.0, max(-1.0, sigmas))
            codes[i, unit] = coded(uneven, lsb_at(circuit, body, deviation, site_c[i]))
    return codes


@compiled
def _drawn(ends: Array, seed: int, unit: int, tick: int, use: int) -> float:
    if ends[0] == ends[1]:
        return ends[0]
    return ends[0] + (ends[1] - ends[0]) * uniform(seed, unit, tick, use)
