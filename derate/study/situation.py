"""The point that is asked about: ambient, airflow and requests, checked."""

from collections.abc import Mapping

from derate.errors import InputError
from derate.lamp.course import MOST_AIRFLOW
from derate.lamp.lamp import Lamp
from derate.lamp.sentence import nearest

DEFAULT_C = 25.0
"""Ambient [degC] where none is asked for: the one of data sheets."""
COLDEST_C, HOTTEST_C = -100.0, 200.0


def checked_ambient(ambient_c: float) -> float:
    """An ambient [degC] that a lamp can stand in; InputError without."""
    if not COLDEST_C <= ambient_c <= HOTTEST_C:
        due = f"a temperature from {COLDEST_C:g} to {HOTTEST_C:g} degC"
        raise InputError(f"ambient: found {ambient_c:g} degC, due {due}")
    return float(ambient_c)


def checked_airflow(airflow: float) -> float:
    """An airflow factor [-]; InputError for one below zero or beyond any fan."""
    if not 0.0 <= airflow <= MOST_AIRFLOW:
        raise InputError(f"airflow: found {airflow:g}, due a factor from 0 to {MOST_AIRFLOW:g}")
    return float(airflow)


def checked_requests(lamp: Lamp, request: float | Mapping[str, float]) -> dict[str, float]:
    """The request 0..1 of every channel; InputError for others and for unknown channels."""
    given = request if isinstance(request, Mapping) else dict.fromkeys(lamp.channels, request)
    for name, share in given.items():
        if name not in lamp.channels:
            due = f"a channel: {nearest(name, lamp.channels)}"
            raise InputError(f'request: found "{name}", due {due}')
        if not 0.0 <= share <= 1.0:
            raise InputError(f"request: found {share:g} for {name}, due a share from 0 to 1")
    return {name: float(given.get(name, 0.0)) for name in lamp.channels}
