"""Preferred values of resistors: the series E12, E24 and E96 (IEC 60063)."""

import math
from typing import Literal

Series = Literal["E12", "E24", "E96"]

OLDER_THAN_THE_RULE = {26: 27, 29: 30, 32: 33, 35: 36, 38: 39, 42: 43, 46: 47, 83: 82}
"""E24 as printed departs from the rounded powers in eight places."""


def decade(series: Series) -> tuple[int, ...]:
    """The values of one decade as whole numbers: of two digits, for E96 of three.

    Value i of En is 10^(i/n), rounded; E12 is every second value of E24.
    """
    if series == "E96":
        return tuple(round(100 * 10 ** (i / 96)) for i in range(96))
    rounded = (round(10 * 10 ** (i / 24)) for i in range(24))
    values = tuple(OLDER_THAN_THE_RULE.get(value, value) for value in rounded)
    return values if series == "E24" else values[::2]


def preferred_ohm(series: Series, low_ohm: float, high_ohm: float) -> list[float]:
    """The resistors [ohm] of a series from ``low_ohm`` to ``high_ohm``, rising."""
    digits = 2 if series == "E96" else 1
    first, last = math.floor(math.log10(low_ohm)), math.floor(math.log10(high_ohm))
    found = []
    for power in range(first - digits, last - digits + 1):
        for value in decade(series):
            found.append(float(value * 10**power) if power >= 0 else value / 10**-power)
    return [ohm for ohm in found if low_ohm <= ohm <= high_ohm]
