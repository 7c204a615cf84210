"""The two forms of a thermal ladder: Foster's as data sheets print it, Cauer's as heat flows.

Both have the impedance Z [K/W] at their first node, s the complex frequency [1/s]:

    Foster  Z = sum of 1 / (s C_i + 1 / R_i)                          pairs in series, in any order
    Cauer   Z = 1 / (s C_1 + 1 / (R_1 + 1 / (s C_2 + ...)))           ends with R_n at the far node

A Foster pair has a time constant R C [s] but no place in the lamp; only a Cauer ladder has nodes
whose temperatures mean something and may be tied to a network. Every set of positive Foster pairs
has one Cauer ladder and the reverse (Foster 1924, Cauer 1926).

Neither conversion forms a polynomial, whose coefficients would lose all digits where time constants
lie decades apart. From Foster to Cauer only positive numbers are added, as in the pqd algorithm of
Laurie (J. Comput. Appl. Math. 112 (1999) 165, cited from memory); from Cauer to Foster each time
constant is bracketed beside its neighbour. Elements come out to about 1e-14 of themselves, however
far apart they are; where two time constants differ by a part g of themselves, to about 1e-15 / g.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError

Array = NDArray[np.float64]

LEAST = 1e-140
"""A pair that moves the first node by less than this part of the whole [-] is left out."""
CLOSEST = 1e-150
"""Least distance of a rate from its neighbour, in halves of their gap [-]; its square is normal."""
HALVINGS = 48
"""Halvings of a distance's logarithm from that to 0: 12 digits, one Newton step does the rest."""


class Stages(NamedTuple):
    """The elements of a ladder of n stages, from the heated end where it has one."""

    resistance_k_per_w: Array
    capacitance_j_per_k: Array


def foster_to_cauer(
    resistance_k_per_w: Sequence[float] | Array, capacitance_j_per_k: Sequence[float] | Array
) -> Stages:
    """The Cauer ladder, from its heated end, of a set of Foster pairs in any order.

    The pairs enter from the fastest to the slowest. The frequency is shifted so that the entering
    pair has its pole at zero, where it is a bare capacitor in series, and that capacitor is pushed
    through the ladder to its far end. Pairs of equal time constant are one pair, so there may be
    fewer stages than pairs. Raises InputError unless all elements are positive.
    """
    r, c = _checked(resistance_k_per_w, capacitance_j_per_k, "Foster set")
    ladder: list[tuple[float, float]] = []
    with np.errstate(all="ignore"):
        taus, series_j_per_k = _pairs(r, c)
        rate_steps = [*(np.diff(taus) / taus[:-1] / taus[1:]), 1.0 / taus[-1]]
        for capacity, rate_step in zip(series_j_per_k, rate_steps, strict=True):
            ladder = _leaking(_in_series(capacity, ladder), rate_step)
    resistance, capacitance = np.array(ladder).T
    return _checked(resistance, capacitance, "ladder of this Foster set, computed")


def cauer_to_foster(
    resistance_k_per_w: Sequence[float] | Array, capacitance_j_per_k: Sequence[float] | Array
) -> Stages:
    """The Foster pairs, fastest first, of a Cauer ladder given from its heated end.

    Built from the far end, one stage put in front after the other. There may be fewer pairs than
    stages: pairs whose time constants agree in all digits are one, and one whose resistance is less
    than about 1e-140 of the whole is left out. Raises InputError unless all elements are positive.
    """
    r, c = _checked(resistance_k_per_w, capacitance_j_per_k, "ladder")
    rate, weight = np.zeros(0), np.zeros(0)
    with np.errstate(all="ignore"):
        for resistance, capacity in zip(r[::-1], c[::-1], strict=True):
            rate, weight = _with_stage_in_front(resistance, capacity, rate, weight)
        slow_last = np.argsort(rate)[::-1]
        pairs = (weight / rate)[slow_last], (1.0 / weight)[slow_last]
    return _checked(*pairs, "Foster set of this ladder, computed")


def _pairs(r: Array, c: Array) -> tuple[Array, Array]:
    """Distinct time constants, fastest first, and the capacity of each: equal ones in series."""
    taus, place = np.unique(r * c, return_inverse=True)
    return taus, 1.0 / np.bincount(place, weights=1.0 / c)


def _in_series(capacity: float, ladder: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A ladder for ``capacity`` in series with ``ladder``: the capacitor ends up at the far node.

    Stage by stage a series capacitor D before a capacitor C becomes C' = C D / (C + D) before a
    series one D m, m = D / (C + D); what follows counts m^2 times as much (Norton's transformation
    with its ideal transformer taken to the end). The last node, with D m, has no way out: R = inf.
    """
    stages, larger = [], 1.0
    for resistance, own in ladder:
        share = capacity / (own * larger + capacity)
        front = own * larger * share
        larger *= share * share
        capacity *= share
        stages.append((resistance / larger, front))
    return [*stages, (math.inf, capacity)]


def _leaking(ladder: list[tuple[float, float]], rate_per_s: float) -> list[tuple[float, float]]:
    """A ladder for ``ladder`` with s + rate in place of s: every capacity C leaks rate C [W/K].

    A leak g before a resistance R is R / m before a leak g m, m = 1 + g R; what follows counts m^2
    times as much. So the leaks of all nodes are gathered at the far end.
    """
    stages, larger, leak = [], 1.0, 0.0
    for resistance, own in ladder:
        own *= larger
        leak += rate_per_s * own
        stages.append((1.0 / (leak + larger / resistance), own))
        ratio = 1.0 + leak * resistance / larger
        larger *= ratio * ratio
        leak *= ratio
    return stages


def _with_stage_in_front(
    resistance: float, capacity: float, rate: Array, weight: Array
) -> tuple[Array, Array]:
    """Rates and weights of 1 / (s C + 1 / (R + Z)), for Z = sum of weight / (s + rate).

    The new rates x are where R + sum of weight / (rate - x) - 1 / (C x) = 0, which rises from
    minus to plus infinity between neighbours among 0 and the old rates: one root each, and one
    above them all. It is found by its distance from the nearer neighbour, so that the distance has
    all its digits. The new weight is 1 / (x^2 C^2) over the slope there.
    """
    rates, place = np.unique(rate, return_inverse=True)
    pole = np.append(0.0, rates)
    pull = np.append(1.0 / capacity, np.bincount(place, weights=weight))
    half_gap = np.append(np.diff(pole) / 2, pull.sum() / resistance)

    def ahead(origin: Array, distance: Array) -> Array:
        return pole - origin[:, None] - distance[:, None]

    def balance(origin: Array, distance: Array) -> Array:
        return resistance + (pull / ahead(origin, distance)).sum(axis=1)

    def slope(origin: Array, distance: Array) -> Array:
        return (pull / ahead(origin, distance) ** 2).sum(axis=1)

    next_is_nearer = balance(pole, half_gap) < 0
    next_is_nearer[-1] = False
    origin = np.where(next_is_nearer, np.roll(pole, -1), pole)
    side = np.where(next_is_nearer, -1.0, 1.0)
    bottom = np.log(half_gap) + math.log(CLOSEST)
    low, high = bottom, np.log(half_gap)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        beyond = side * balance(origin, side * np.exp(middle)) > 0
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    distance = side * np.exp(high)
    distance -= balance(origin, distance) / slope(origin, distance)
    new = origin + distance
    new_weight = 1.0 / (capacity * new) ** 2 / slope(origin, distance)
    felt = (low > bottom) & (new_weight > LEAST * new_weight.sum())
    return new[felt], new_weight[felt]


def _checked(
    resistance_k_per_w: Sequence[float] | Array,
    capacitance_j_per_k: Sequence[float] | Array,
    what: str,
) -> Stages:
    """The elements as arrays; raises InputError unless there are pairs, all finite and positive."""
    r, c = np.array(resistance_k_per_w, float), np.array(capacitance_j_per_k, float)
    if r.ndim != 1 or r.shape != c.shape or r.size == 0:
        raise InputError(
            f"{what}: found {r.size} resistances and {c.size} capacitances,"
            " due as many of the one as of the other, at least one"
        )
    for name, unit, values in (("resistance", "K/W", r), ("capacitance", "J/K", c)):
        bad = np.flatnonzero(~((values > 0) & (values < math.inf)))
        if bad.size:
            raise InputError(
                f"{what}: {name}[entry {bad[0] + 1}]: found {values[bad[0]]:g} {unit}, due a"
                " positive number: a ladder of positive elements has no other"
            )
    return Stages(r, c)
