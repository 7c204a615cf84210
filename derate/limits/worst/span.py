"""The air that a bound holds for: the ambients and airflows that a lamp may be used in."""

from typing import NamedTuple

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.quantity_at import Quantity
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
    if ambient_c is None:
        found_c = [at_c for profile in lamp.profiles.values() for at_c in profile.ambients_c]
        shift_k = of_units(lamp, AMBIENT)
        low_c, high_c = (min(found_c), max(found_c)) if found_c else ROOM_C
        ambient_c = low_c + shift_k[0], high_c + shift_k[1]
    airflow = airflow or airflows_of(lamp)
    for key, (low, high) in (("ambient", ambient_c), ("airflow", airflow)):
        if not low <= high:
            raise InputError(f"{key}: found {low:g} to {high:g}, due the lesser end first")
    return Span(ambient_c, airflow)


def airflows_of(lamp: Lamp) -> tuple[float, float]:
    """Least and largest airflow [-] of the profiles of a lamp, with its tolerances."""
    profiles, factor = lamp.profiles.values(), of_units(lamp, AIRFLOW)
    least = min((profile.least_airflow for profile in profiles), default=1.0)
    most = max((profile.most_airflow for profile in profiles), default=1.0)
    return least * factor[0], most * factor[1]


def of_units(lamp: Lamp, place: Quantity) -> tuple[float, float]:
    """The limits of what tolerances do to the ambient [K] or the airflow [-]."""
    keys = [limits for one in variations(lamp) for limits in one.keys if limits.key == place.key]
    return (keys[0].low, keys[0].high) if keys else (place.value, place.value)
