"""Which divider resistor: resolution or error over a range, with the fault windows it leaves.

A smaller pull-up reads the hot end finer and crowds the cold end against the code of an open
thermistor; a larger one does the reverse. Resistor, table and fault windows are therefore judged
together.
"""

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing import thermistor
from derate.sensing.budget import budget
from derate.sensing.circuit import Circuit, celsius_at_lsb, ideal_lsb
from derate.sensing.contribution import STEADY, Situation
from derate.sensing.corridor import about
from derate.sensing.deviation import lsb_ends
from derate.sensing.lookup import CENTI, MAX_ERROR_K
from derate.sensing.ntc import resistance_ohm
from derate.sensing.preferred import Series, preferred_ohm
from derate.sensing.straight import reaches
from derate.sensing.tables import ReadingTable, build_table

Aim = Literal["resolution", "error"]

BYTES_PER_KNOT = 4
"""A code and a reading of 16 bits each."""
POINTS = 9
"""Temperatures at which the error over the range of interest is taken, ends included."""
BEYOND = 3.0
"""Resistors are tried from the thermistor's least to its most over the range, and this factor on.

The finest resolution at a temperature lies at a resistor equal to the thermistor there.
"""


class Candidate(NamedTuple):
    """A divider resistor and what it gives over the range of interest.

    ``worst_k_per_code`` [K]: largest step of one code; ``worst_error_k`` [K]: largest error at
    worst, as a budget says it, and the error of a table; ``*_margin_codes``: from the extreme
    healthy code to the fault window; ``*_fires_c`` [degC]: temperature at which the window would be
    met, NaN where none does; ``knots``, ``bytes``: fewest that placed knots may do with for 0.1 K;
    ``refused``: why it cannot be used, else None, and then all but the resolution is empty;
    ``present``: it is the one in the sensor; ``cost``: the aim over that of the best candidate, 1
    for the best and NaN where there is none.
    """

    resistor_ohm: float
    worst_k_per_code: float
    worst_error_k: float
    open_margin_codes: int
    short_margin_codes: int
    open_fires_c: float
    short_fires_c: float
    knots: int
    bytes: int
    refused: str | None
    present: bool
    cost: float


def kelvin_per_code(circuit: Circuit, temperatures_c: ArrayLike) -> NDArray[np.float64]:
    """What one code is worth [K] at each of ``temperatures_c`` [degC], in the ideal chain.

    Taken over one code about each: half a code to either side; NaN where the divider ends there.
    """
    celsius = np.asarray(temperatures_c, float)
    least, most = lsb_ends(circuit)
    found = []
    for one in celsius.ravel():
        lsb = ideal_lsb(circuit, one)
        inside = least + 0.5 < lsb < most - 0.5
        found.append(_celsius_of_a_code(circuit, lsb) if inside else math.nan)
    return np.array(found).reshape(celsius.shape)


def _celsius_of_a_code(circuit: Circuit, lsb: float) -> float:
    return float(abs(celsius_at_lsb(circuit, lsb + 0.5) - celsius_at_lsb(circuit, lsb - 0.5)))


def design(
    sensor: Sensor,
    low_c: float,
    high_c: float,
    *,
    series: Series = "E24",
    aim: Aim = "resolution",
    situation: Situation = STEADY,
    max_error_k: float = MAX_ERROR_K,
) -> list[Candidate]:
    """Divider resistors for a range of interest [degC], best first, those refused last.

    ``aim``: least worst kelvin per code, or least worst error of the whole budget. The resistor of
    the sensor takes part, of the series or not. Fault windows are those of the whole working
    range, thermistor.range. Every resistor is read with one value a code, and ``max_error_k`` [K],
    the error of whatever table is chosen in the end, counts for all of them alike.
    """
    working_c = sensor.thermistor.range_c
    if not working_c[0] <= low_c < high_c <= working_c[1]:
        raise InputError(
            f"design: found the range {low_c:g} to {high_c:g} degC, due a range within thermistor"
            f".range, {working_c[0]:g} to {working_c[1]:g} degC"
        )
    ntc = thermistor.from_lamp(sensor.thermistor)
    most_ohm, least_ohm = resistance_ohm(ntc, [low_c, high_c])
    tried = preferred_ohm(series, float(least_ohm) / BEYOND, float(most_ohm) * BEYOND)
    present_ohm = sensor.divider.resistor_ohm
    celsius = np.linspace(low_c, high_c, POINTS)
    found = [
        _judged(sensor, ohm, celsius, situation, max_error_k)
        for ohm in sorted({*tried, present_ohm})
    ]
    of_aim = "worst_k_per_code" if aim == "resolution" else "worst_error_k"
    found.sort(key=lambda one: (one.refused is not None, getattr(one, of_aim)))
    best = getattr(found[0], of_aim) if found[0].refused is None else math.nan
    return [
        one._replace(cost=getattr(one, of_aim) / best, present=one.resistor_ohm == present_ohm)
        for one in found
    ]


def _judged(
    sensor: Sensor,
    ohm: float,
    celsius: NDArray[np.float64],
    situation: Situation,
    max_error_k: float,
) -> Candidate:
    divider = sensor.divider.model_copy(update={"resistor_ohm": ohm})
    changed = sensor.model_copy(update={"divider": divider})
    where = f"{ohm:g} ohm"
    nan = math.nan
    circuit = circuits.from_lamp(changed, where=where)
    step_k = float(np.max(kelvin_per_code(circuit, celsius)))
    useless = Candidate(ohm, step_k, nan, 0, 0, nan, nan, 0, 0, None, False, nan)
    try:
        everywhere = [*celsius, *sensor.thermistor.range_c]
        table = build_table(
            circuit, changed.thermistor.range_c, kind="direct", max_error_k=1.0, where=where
        )
        found = budget(changed, everywhere, situation=situation, table=table, where=where)
    except InputError as error:
        return useless._replace(refused=str(error))
    if found.lost:
        return useless._replace(refused=found.lost[0])
    window, knots = table.window, _fewest_knots(table)
    error_k = np.maximum(-found.at_worst_low_k, found.at_worst_high_k)[: len(celsius)]
    return useless._replace(
        worst_error_k=float(np.max(error_k)) + max_error_k,
        open_margin_codes=window.open_margin_codes,
        short_margin_codes=window.short_margin_codes,
        open_fires_c=window.open_fires_c,
        short_fires_c=window.short_fires_c,
        knots=knots,
        bytes=BYTES_PER_KNOT * knots,
    )


def _fewest_knots(direct: ReadingTable) -> int:
    """Knots below which no table within 0.1 K exists; one more may be due."""
    return len(reaches(about(direct.values.astype(float), CENTI * MAX_ERROR_K))[0])
