"""The air that a bound holds for: the ambients and airflows that a lamp may be used in."""

from typing import NamedTuple

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.variation import variations
from derate.lamp.varying import AIRFLOW, AMBIENT

ROOM_C = (25.0, 25.0)
"""Of a lamp file without profiles."""


class Span(NamedTuple):
    """Coldest and hottest ambient [degC], which stays as it is; least and largest airflow [-],
    which may change at any time."""

    ambient_c: tuple[float, float]
    airflow: tuple[float, float]


def span_of(
    lamp: Lamp,
    ambient_c: tuple[float, float] | None = None,
    airflow: tuple[float, float] | None = None,
) -> Span:
    """What the profiles of a lamp file span with its tolerances, unless it is given.

    Raises InputError for ends the wrong way round.
    """
    profiles = list(lamp.profiles.values())
    shift_k, factor = _of_units(lamp)
    if ambient_c is None:
        found_c = [at_c for profile in profiles for at_c in profile.ambients_c]
        low_c, high_c = (min(found_c), max(found_c)) if found_c else ROOM_C
        ambient_c = low_c + shift_k[0], high_c + shift_k[1]
    if airflow is None:
        least = min((profile.least_airflow for profile in profiles), default=1.0)
        most = max((profile.most_airflow for profile in profiles), default=1.0)
        airflow = least * factor[0], most * factor[1]
    for key, (low, high) in (("ambient", ambient_c), ("airflow", airflow)):
        if not low <= high:
            raise InputError(f"{key}: found {low:g} to {high:g}, due the lesser end first")
    return Span(ambient_c, airflow)


def _of_units(lamp: Lamp) -> tuple[tuple[float, float], tuple[float, float]]:
    """Shift of the ambient [K] and factor on the airflow [-], least and largest of any unit."""
    found = {AMBIENT.key: (0.0, 0.0), AIRFLOW.key: (1.0, 1.0)}
    for one in variations(lamp):
        for limits in one.keys:
            if limits.key in found:
                found[limits.key] = limits.low, limits.high
    return found[AMBIENT.key], found[AIRFLOW.key]
