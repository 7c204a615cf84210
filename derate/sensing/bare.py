"""A thermistor on its own, without a lamp: its table and all that is known of its readings."""

from collections.abc import Mapping, Sequence
from typing import Any

from derate.errors import InputError
from derate.lamp.lamp import validated
from derate.lamp.quantities import Source, convert
from derate.lamp.sensor import Sensor
from derate.sensing.contribution import Situation
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
    situation: Situation = NOTHING_ELSE,
) -> ReadingStudy:
    """The reading table and error budget of a sensor given as in a lamp file, ``sensors.ntc``.

    ``sensor`` holds thermistor, divider and adc, and may hold tolerance and disturbance; without
    ``resistance`` [K/W] and ``capacitance`` [J/K] its own heat and lag do not count. ``max_error``
    [K], ``threshold`` and ``interest`` [degC] are quantities as text or numbers in that unit.
    Raises InputError as a lamp file would.
    """
    checked = validated(
        Sensor.model_validate, {**GLUED, **sensor}, Source(None, numbers=True), name
    )
    ends = None if interest is None else [_number(end, "degC", "interest") for end in interest]
    wanted = Wanted(
        max_error_k=None if max_error is None else _number(max_error, "K", "max_error"),
        max_bytes=max_bytes,
        kind=kind,
        scale=scale,
        threshold_c=None if threshold is None else _number(threshold, "degC", "threshold"),
        interest_c=None if ends is None else (ends[0], ends[1]),
    )
    return study_sensor(checked, name=name, situation=situation, wanted=wanted)


def _number(value: str | float, unit: str, what: str) -> float:
    if not isinstance(value, str):
        return float(value)
    try:
        return convert(value, unit)
    except ValueError:
        raise InputError(f'{what}: found "{value}", due a quantity in {unit}') from None
