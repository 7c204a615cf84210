"""Doubts about printed data: a table nobody measured, one filled by straight lines, a misprint.

A real part bends: B grows by 1 to 4 % over 100 K, and nowhere does the curve jump. Rounding of the
print is allowed for throughout, so that a table of three digits earns no doubt for them.
"""

from decimal import Decimal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.sensing.ntc import KELVIN_AT_0_C, REFERENCE_C

Array = NDArray[np.float64]

COMPUTED_B_SPREAD = 0.001
"""A printed table whose B value varies by less than this share looks computed, not measured.

Common practice: real parts vary by 1 to 4 % over 100 K, and rounding to 3 digits by 0.1 %.
"""
STRAIGHT_SAG = 0.2
"""A row is on a straight line when it sags by less than this share of what a real curve does."""
STRAIGHT_SHARE = 0.25
"""A table is filled by straight lines when this share of its rows lie on them.

Filling doubles the rows at least, which puts half of them on lines; a measured table puts none.
"""
RESOLVED_UNITS = 4.0
"""Units of the last printed digit by which a row must sag for its straightness to be seen."""
ODD_K = 0.15
"""A row this far [K] off the curve of its neighbours is odd, for rows up to 10 K apart.

Five makers' tables at rows 10 K apart stay within 0.12 K beyond their rounding. Wider rows are
allowed more, with the square of the spacing. Those near the ends are extrapolated, and are allowed
the root of what that multiplies, and from 20 K apart all of it.
"""
FOUR_NEIGHBOURS_GAIN = 5.0 / 3.0
"""Sum of the weights of four even neighbours in an interpolated row; more at the ends."""
LEAST_ROWS = 6
MOST_ODD_ROWS = 3
AROUND = 8
"""Rows to either side of an odd one among which the one to blame is sought."""


def doubts(celsius: ArrayLike, ohm: ArrayLike) -> list[str]:
    """Sentences on why rows [degC, ohm] do not look like a measured part; mostly none."""
    order = np.argsort(np.asarray(celsius, float))
    t, r = np.asarray(celsius, float)[order], np.asarray(ohm, float)[order]
    if looks_computed(t, r):
        return [
            "the rows have the same B value everywhere: they look computed, not measured, and a"
            " real part departs from them by kelvins at both ends"
        ]
    if looks_filled(t, r):
        return [
            "the rows lie on straight lines between a few of them: they look interpolated, not"
            " measured; give only the rows that the maker printed"
        ]
    return [
        f"{was:g} ohm at {at_c:g} degC lies {abs(off_k):.2g} K off the curve of its neighbours,"
        f" which put {due:.4g} ohm there: is it a misprint?"
        for at_c, was, due, off_k in odd_rows(t, r)
    ]


def looks_computed(celsius: ArrayLike, ohm: ArrayLike) -> bool:
    """Whether a table follows one B value so closely that nobody can have measured it."""
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    reference = int(np.argmin(np.abs(t - REFERENCE_C)))
    far = np.abs(t - t[reference]) >= 25.0
    if np.count_nonzero(far) < 2:
        return False
    span = 1.0 / (t[far] + KELVIN_AT_0_C) - 1.0 / (t[reference] + KELVIN_AT_0_C)
    values = np.log(r[far] / r[reference]) / span
    return bool(np.ptp(values) < COMPUTED_B_SPREAD * np.mean(values))


def looks_filled(celsius: ArrayLike, ohm: ArrayLike) -> bool:
    """Whether rows lie on straight lines in R between fewer rows, as spreadsheets fill tables.

    Between its two neighbours a row of a real part sags below the straight line almost as far as
    the exponential through them does.
    """
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    if len(t) < LEAST_ROWS:
        return False
    line = _between(t, r)
    curve = np.exp(_between(1.0 / (t + KELVIN_AT_0_C), np.log(r)))
    due, found = line - curve, line - r[1:-1]
    seen = due > RESOLVED_UNITS * last_digit_ohm(r)[1:-1]
    straight = np.abs(found[seen]) < STRAIGHT_SAG * due[seen]
    return bool(np.count_nonzero(straight) > STRAIGHT_SHARE * max(LEAST_ROWS, len(straight)))


def odd_rows(celsius: ArrayLike, ohm: ArrayLike) -> list[tuple[float, float, float, float]]:
    """Rows off the smooth curve of the others: [degC], [ohm], the [ohm] due, and how far off [K].

    That is the printed temperature less the one at which the others have the printed resistance.

    Each row is compared with the cubic of ln R against 1/T through its four neighbours. A wrong
    row spoils theirs too; the one without which the rest fits best is to blame, again and again
    until nothing stands out.
    """
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    unit = last_digit_ohm(r)
    kept = np.arange(len(t))
    found: list[tuple[float, float, float, float]] = []
    while len(kept) >= LEAST_ROWS and len(found) < MOST_ODD_ROWS:
        excess_k = _excess_k(t[kept], r[kept], unit[kept])
        if not np.any(excess_k > 0.0):
            break
        worst = _to_blame(t[kept], r[kept], unit[kept], int(np.argmax(excess_k)))
        due, off_k = _from_neighbours(t[kept], r[kept], worst)
        found.append((float(t[kept[worst]]), float(r[kept[worst]]), due, off_k))
        kept = np.delete(kept, worst)
    return found


def last_digit_ohm(ohm: ArrayLike) -> Array:
    """What one unit of the last printed digit is worth [ohm], row by row.

    Seen from the most digits and the most decimals that any row of the print shows.
    """
    r = np.asarray(ohm, float)
    printed = [Decimal(repr(float(value))).normalize().as_tuple() for value in r]
    decimals = max([0, *(-int(p.exponent) for p in printed)])
    digits = max(len(p.digits) for p in printed)
    return np.asarray(np.maximum(10.0**-decimals, 10.0 ** (np.floor(np.log10(r)) + 1 - digits)))


def rounding_k(celsius: ArrayLike, ohm: ArrayLike) -> Array:
    """Half a unit of the last printed digit of each row, in kelvin of the thermistor [K]."""
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    slope = np.abs(np.gradient(np.log(r), t))
    return np.asarray(0.5 * last_digit_ohm(r) / r / slope)


def _between(x: Array, y: Array) -> Array:
    """Straight lines from each row's left to its right neighbour, at the row."""
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    return y[:-2] + share * (y[2:] - y[:-2])


def _neighbours(x: Array, at: int) -> tuple[list[int], Array]:
    """Four rows about a row, and the weights of their values in the cubic through them."""
    first = min(max(0, at - 2), len(x) - 5)
    near = [j for j in range(first, first + 5) if j != at]
    weights = [np.prod([(x[at] - x[k]) / (x[j] - x[k]) for k in near if k != j]) for j in near]
    return near, np.array(weights)


def _from_neighbours(t: Array, r: Array, at: int) -> tuple[float, float]:
    """The resistance [ohm] due at a row by its neighbours, and how far off [K] it is."""
    near, weights = _neighbours(1.0 / (t + KELVIN_AT_0_C), at)
    due = float(np.exp(weights @ np.log(r[near])))
    slope = np.log(r[near[0]] / r[near[-1]]) / (t[near[-1]] - t[near[0]])
    return due, float(np.log(r[at] / due) / slope)


def _to_blame(t: Array, r: Array, unit: Array, seen: int) -> int:
    """The row, of those about the one where an excess is ``seen``, without which the rest fits."""
    first = max(0, min(seen - AROUND, len(t) - 2 * AROUND - 1))
    about = np.arange(first, min(len(t), first + 2 * AROUND + 1))
    suspects = range(max(0, seen - 4), min(len(t), seen + 5))
    left_k = []
    for suspect in suspects:
        rest = about[about != suspect]
        left_k.append(float(np.sum(_excess_k(t[rest], r[rest], unit[rest]))))
    return suspects[int(np.argmin(left_k))]


def _excess_k(t: Array, r: Array, unit: Array) -> Array:
    """What lies beyond rounding and a real part's own bends [K], row by row, 0 where nothing."""
    x, log_ohm, half = 1.0 / (t + KELVIN_AT_0_C), np.log(r), 0.5 * unit / r
    found = np.zeros(len(t))
    for at in range(len(t)):
        near, weights = _neighbours(x, at)
        spread_c = t[near[-1]] - t[near[0]]
        slope = (log_ohm[near[0]] - log_ohm[near[-1]]) / spread_c
        off = abs(log_ohm[at] - weights @ log_ohm[near])
        rounding = half[at] + np.abs(weights) @ half[near]
        wider = max(1.0, spread_c / 40.0)  # four gaps of 10 K are 1
        gain = max(1.0, float(np.sum(np.abs(weights))) / FOUR_NEIGHBOURS_GAIN)
        bends_k = ODD_K * wider**2 * gain ** min(1.0, 0.5 * wider)
        found[at] = max(0.0, (off - rounding) / slope - bends_k)
    return found
