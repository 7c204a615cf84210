"""A temperature as a code to compare with, and the temperatures at which real units then trip."""

from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np

from derate.errors import InputError
from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing import deviation as place
from derate.sensing.circuit import celsius_at_lsb, ideal_lsb
from derate.sensing.contribution import STEADY, Situation, causes_of, ends_of
from derate.sensing.deviation import corner_lsb
from derate.sensing.prepared import body_of
from derate.sensing.reading_table import ReadingTable
from derate.sensing.window import fault_window

REACH_C = 100.0
"""How far [K] beyond the threshold a trip is looked for."""
HALVINGS = 40
"""Halvings of that reach: far below a millikelvin."""


class Threshold(NamedTuple):
    """Too hot when ``code`` read ``direction`` this ``code``; no table is needed.

    ``ideal_c``: where a chain without errors trips. ``low_c``, ``high_c``: [degC] between which
    every unit within its tolerances first trips, noise counted at 4 sigma; infinite where some
    unit never does. It is the temperature of the place the sensor is mounted on.
    """

    celsius: float
    code: int
    direction: Literal[">=", "<="]
    ideal_c: float
    low_c: float
    high_c: float
    open_code: int
    open_direction: Literal[">=", "<="]


def threshold(
    sensor: Sensor,
    celsius: float,
    *,
    situation: Situation = STEADY,
    table: ReadingTable | None = None,
    where: str = "sensor",
) -> Threshold:
    """The code to compare with for ``celsius`` [degC]; InputError when it can be no threshold.

    With a pull-up the code falls as the thermistor warms, so that hot is at or below the code;
    with a pull-down it is at or above. Fault codes are those of ``table``, if given.
    """
    circuit = circuits.from_lamp(sensor, where=where)
    low_c, high_c = sensor.thermistor.range_c
    if not low_c <= celsius <= high_c:
        raise InputError(
            f"{where}: found a threshold of {celsius:g} degC, due one within the working range of"
            f" {low_c:g} to {high_c:g} degC"
        )
    falls = circuit.bridge.pull_up
    edge_lsb = round(ideal_lsb(circuit, celsius))
    code = edge_lsb - 1 if falls else edge_lsb
    window = table.window if table else fault_window(circuit, (low_c, high_c), where=where)
    if not window.low_code < code < window.high_code:
        raise InputError(
            f"{where}: a threshold of {celsius:g} degC is code {code}, due a code between those"
            f" taken for a fault, {window.low_code} and {window.high_code}"
        )
    body, ends = body_of(sensor, circuit, situation), ends_of(causes_of(sensor, situation))
    ends[place.QUANTUM] = 0.0  # the comparison is with a whole code: nothing is rounded

    def hot(side: int) -> Callable[[float], bool]:
        def trips(site_c: float) -> bool:
            lsb = corner_lsb(circuit, body, ends, np.array([site_c]))[0, side]
            return bool(lsb < edge_lsb if falls else lsb >= edge_lsb)

        return trips

    earliest, latest = (0, 1) if falls else (1, 0)
    return Threshold(
        celsius,
        code,
        "<=" if falls else ">=",
        float(celsius_at_lsb(circuit, float(edge_lsb))),
        _first(hot(earliest), celsius),
        _first(hot(latest), celsius),
        window.open_code,
        ">=" if window.open_is_high else "<=",
    )


def _first(hot: Callable[[float], bool], about_c: float) -> float:
    """The temperature [degC] from which on ``hot`` holds."""
    low_c, high_c = about_c - REACH_C, about_c + REACH_C
    if hot(low_c):
        return -np.inf
    if not hot(high_c):
        return np.inf
    for _ in range(HALVINGS):
        middle_c = 0.5 * (low_c + high_c)
        low_c, high_c = (low_c, middle_c) if hot(middle_c) else (middle_c, high_c)
    return high_c
