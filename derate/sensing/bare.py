"""A thermistor on its own, without a lamp: its table and all that is known of its readings."""

import math
from collections.abc import Mapping, Sequence
from numbers import Real
from typing import Any

from pydantic import TypeAdapter, ValidationError

from derate.errors import InputError
from derate.lamp.lamp import validated
from derate.lamp.part import Name
from derate.lamp.quantities import Source, convert
from derate.lamp.sensor import Sensor
from derate.lamp.sentence import shown
from derate.sensing.contribution import Situation
from derate.sensing.design import Aim
from derate.sensing.preferred import Series
from derate.sensing.study import NOTHING_ELSE, ReadingStudy, Wanted, study_sensor

GLUED = {"at": "board", "resistance": "0.001 K/W", "capacitance": "0 J/K"}
"""Mounted so well that neither its own heat nor lag matters."""


def table(
    sensor: Mapping[str, Any],
    *,
    name: str = "ntc",
    max_error: str | float | None = None,
    max_bytes: int | None = None,
    kind: str | None = None,
    scale: int = 100,
    threshold: str | float | None = None,
    interest: Sequence[str | float] | None = None,
    aim: Aim = "resolution",
    series: Series = "E24",
    ambient_c: Sequence[str | float] | None = None,
    ramp_k_per_s: str | float | None = None,
    situation: Situation = NOTHING_ELSE,
) -> ReadingStudy:
    """The reading table and error budget of a sensor given as in a lamp file, ``sensors.ntc``.

    ``sensor`` holds thermistor, divider and adc, and may hold tolerance and disturbance; without
    ``resistance`` [K/W] and ``capacitance`` [J/K] its own heat and lag do not count. ``max_error``
    [K], ``threshold`` and ``interest`` [degC] are quantities as text or numbers in that unit.
    ``aim`` and ``series``: how divider resistors are judged and which are tried. ``ambient_c``
    [degC], coldest and warmest, and ``ramp_k_per_s`` [K/s]: of the situation.
    Raises InputError as a lamp file would.
    """
    if not isinstance(sensor, Mapping):
        raise InputError(
            f"{_named(name)}: found {shown(sensor)}, due a table of keys as in a lamp file"
        )
    checked = validated(
        Sensor.model_validate, {**GLUED, **sensor}, Source(None, numbers=True), _named(name)
    )
    wanted = Wanted(
        max_error_k=None if max_error is None else _number(max_error, "K", "max_error"),
        max_bytes=max_bytes,
        kind=kind,
        scale=scale,
        threshold_c=None if threshold is None else _number(threshold, "degC", "threshold"),
        interest_c=None if interest is None else _rising(interest, "interest"),
        aim=aim,
        series=series,
    )
    return study_sensor(
        checked,
        name=name,
        situation=situation,
        wanted=wanted,
        ambient_c=None if ambient_c is None else _rising(ambient_c, "ambient_c", equal=True),
        ramp_k_per_s=None if ramp_k_per_s is None else _number(ramp_k_per_s, "K/s", "ramp_k_per_s"),
    )


def _named(name: object) -> str:
    try:
        return TypeAdapter(Name).validate_python(name)
    except ValidationError:
        raise InputError(
            f'name: found {shown(name)}, due a name of small letters, digits and "_" that begins'
            " with a letter"
        ) from None


def _rising(ends: object, what: str, *, equal: bool = False) -> tuple[float, float]:
    """Two temperatures [degC], the second above the first."""
    pair = [] if isinstance(ends, str) or not isinstance(ends, Sequence) else list(ends)
    if len(pair) == 2:
        low_c, high_c = (_number(end, "degC", what) for end in pair)
        if low_c < high_c or (equal and low_c == high_c):
            return low_c, high_c
    raise InputError(f"{what}: found {shown(ends)}, due two temperatures, the colder first")


def _number(value: object, unit: str, what: str) -> float:
    if isinstance(value, Real) and not isinstance(value, bool) and math.isfinite(value):
        return float(value)
    try:
        if not isinstance(value, str):
            raise ValueError
        return convert(value, unit)
    except ValueError:
        raise InputError(f"{what}: found {shown(value)}, due a quantity in {unit}") from None
