"""The error budget of a sensor: how far its reading may lie from the truth, and why.

Each cause is taken to both its limits in the whole chain, the others left ideal, and the code is
read back through the ideal chain; nothing is linearised. Three sums answer three questions:

- worst: all signed extremes added. Simple, and never less than one cause alone.
- corner: every combination of limits put through the chain at once, and the extreme codes read by
  the firmware's own table. No unit within its limits reads further off: a bound, not a search.
- bias and rss: the middles of all causes added, their halves root-sum-squared. An estimate.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing import deviation as place
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import (
    STEADY,
    Cause,
    Contribution,
    Situation,
    causes_of,
    ends_of,
)
from derate.sensing.deviation import Body, corner_lsb, errors_k
from derate.sensing.lookup import (
    CENTI,
    MAX_ERROR_K,
    Lookup,
    build,
    ideal_reading_c,
    reading_centi_c,
)
from derate.sensing.ntc import resistance_ohm
from derate.sensing.thermistor import b_value_k

Array = NDArray[np.float64]

B_FROM_C, B_TO_C = 25.0, 85.0
"""The pair for the B value whose tolerance is stated; B25/85 and B25/100 differ by under 1 %."""
STEP_K = 5.0
"""Distance of the temperatures of a budget when none are asked for."""


class Study(NamedTuple):
    """A sensor in a situation: its circuit and table, its surroundings, the causes of its error."""

    circuit: Circuit
    lookup: Lookup
    body: Body
    causes: tuple[Cause, ...]
    range_c: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Budget:
    """Errors [K] at each of ``temperatures_c`` [degC] of the place the sensor is mounted on.

    Reading minus truth, so that below zero it reads cold. See the module for the three sums;
    ``lost``: sentences on readings that tolerances carry into a fault window; ``notes``: on what
    else to look at.
    """

    temperatures_c: Array
    contributions: tuple[Contribution, ...]
    worst_low_k: Array
    worst_high_k: Array
    corner_low_k: Array
    corner_high_k: Array
    bias_k: Array
    rss_k: Array
    lost: tuple[str, ...]
    notes: tuple[str, ...]
    study: Study


def study(
    sensor: Sensor,
    situation: Situation = STEADY,
    *,
    max_error_k: float = MAX_ERROR_K,
    where: str = "sensor",
) -> Study:
    """A sensor made ready; InputError when its chain leaves no room for a table or fault window."""
    circuit = circuits.from_lamp(sensor, where=where)
    range_c = sensor.thermistor.range_c
    lookup = build(circuit, range_c, max_error_k=max_error_k, where=where)
    return Study(
        circuit, lookup, _body(sensor, circuit, situation), causes_of(sensor, situation), range_c
    )


def budget(
    sensor: Sensor,
    temperatures_c: ArrayLike | None = None,
    *,
    situation: Situation = STEADY,
    max_error_k: float = MAX_ERROR_K,
    where: str = "sensor",
) -> Budget:
    """The error budget of a sensor; without ``temperatures_c`` [degC], over its working range."""
    ready = study(sensor, situation, max_error_k=max_error_k, where=where)
    low_c, high_c = ready.range_c
    if temperatures_c is None:
        site_c = np.linspace(low_c, high_c, 1 + max(1, round((high_c - low_c) / STEP_K)))
    else:
        site_c = np.atleast_1d(np.asarray(temperatures_c, float))
    _inside(site_c, ready.range_c, where)
    return _summed(ready, site_c, sensor, where)


def error_band(
    sensor: Sensor,
    celsius: float,
    *,
    situation: Situation = STEADY,
    max_error_k: float = MAX_ERROR_K,
    where: str = "sensor",
) -> tuple[float, float]:
    """Least and most error [K] of a reading at ``celsius`` [degC], for guard bands.

    The wider of the worst sum and the corners, so that it holds about that temperature too.
    """
    found = budget(sensor, celsius, situation=situation, max_error_k=max_error_k, where=where)
    low_k = min(found.worst_low_k[0], found.corner_low_k[0])
    return float(low_k), float(max(found.worst_high_k[0], found.corner_high_k[0]))


def _inside(site_c: Array, range_c: tuple[float, ...], where: str) -> None:
    for celsius in site_c:
        if not range_c[0] <= celsius <= range_c[1]:
            raise InputError(
                f"{where}: found {celsius:g} degC, due a temperature within the working range of"
                f" {range_c[0]:g} to {range_c[1]:g} degC"
            )


def _body(sensor: Sensor, circuit: Circuit, situation: Situation) -> Body:
    to_node, to_air = sensor.resistance_k_per_w, sensor.to_ambient_k_per_w
    ambient_share = 0.0 if to_air is None else to_node / (to_node + to_air)
    heat_k_per_w = to_node * (1.0 - ambient_share)
    first_ohm, second_ohm = resistance_ohm(circuit.ntc, [B_FROM_C, B_TO_C])
    return Body(
        heat_k_per_w,
        heat_k_per_w * sensor.capacitance_j_per_k,
        ambient_share,
        float(situation.ambient_c),
        float(situation.current_a),
        b_value_k(B_FROM_C, float(first_ohm), B_TO_C, float(second_ohm)),
    )


def _summed(ready: Study, site_c: Array, sensor: Sensor, where: str) -> Budget:
    ends = ends_of(ready.causes)
    reach = corner_lsb(ready.circuit, ready.body, _without(ends, place.QUANTUM), site_c)
    alone = [_alone(ready, cause, site_c) for cause in ready.causes]
    contributions = (*alone, _table(ready, reach))
    low_k = np.array([one.worst_low_k for one in contributions])
    high_k = np.array([one.worst_high_k for one in contributions])
    corner_k = _read(ready, reach) / CENTI - site_c[:, None]
    return Budget(
        site_c,
        contributions,
        low_k.sum(axis=0),
        high_k.sum(axis=0),
        corner_k.min(axis=1),
        corner_k.max(axis=1),
        0.5 * (low_k + high_k).sum(axis=0),
        0.5 * np.sqrt(((high_k - low_k) ** 2).sum(axis=0)),
        _lost(ready, reach, site_c, where),
        _notes(sensor, where),
        ready,
    )


def _without(ends: Array, at: int) -> Array:
    found = ends.copy()
    found[at] = 0.0
    return found


def _alone(ready: Study, cause: Cause, site_c: Array) -> Contribution:
    """One cause at both its ends, everything else ideal."""
    found = []
    for end in (cause.low, cause.high):
        deviation = np.zeros(len(place.PLACES))
        deviation[cause.place] = end
        added_k = errors_k(ready.circuit, ready.body, deviation, site_c)
        found.append(added_k if np.any(deviation) else np.zeros(len(site_c)))
    return Contribution(cause.name, np.minimum(*found), np.maximum(*found), cause.why)


def _codes(ready: Study, reach: Array) -> NDArray[np.int64]:
    """The extreme codes of ``reach`` [LSB], at most the last ones that are no fault."""
    window = ready.lookup.window
    return np.clip(np.floor(reach).astype(np.int64), window.low_code + 1, window.high_code - 1)


def _read(ready: Study, reach: Array) -> NDArray[np.int64]:
    return reading_centi_c(ready.lookup, _codes(ready, reach))


def _table(ready: Study, reach: Array) -> Contribution:
    """Interpolation and rounding at every code that a unit can give, against the ideal chain."""
    lookup = ready.lookup
    first, last = int(lookup.knots[0]), int(lookup.knots[-1])
    codes = np.arange(first, last + 1)
    wrong_k = reading_centi_c(lookup, codes) / CENTI - ideal_reading_c(ready.circuit, codes)
    found = np.empty((2, len(reach)))
    for i, (least, most) in enumerate(np.clip(np.floor(reach).astype(int), first, last) - first):
        near_k = wrong_k[least : most + 1]
        found[:, i] = near_k.min(), near_k.max()
    return Contribution("table", found[0], found[1], "interpolation and rounding, every code")


def _lost(ready: Study, reach: Array, site_c: Array, where: str) -> tuple[str, ...]:
    window = ready.lookup.window
    least, most = np.floor(reach).T
    found = []
    for beyond, end in ((least <= window.low_code, "least"), (most >= window.high_code, "most")):
        if np.any(beyond):
            at = ", ".join(f"{celsius:g}" for celsius in site_c[beyond])
            found.append(
                f"{where}: at {at} degC the {end} code of a healthy thermistor within its"
                " tolerances is taken for a fault"
            )
    return tuple(found)


def _notes(sensor: Sensor, where: str) -> tuple[str, ...]:
    if sensor.tolerance.reference and sensor.divider.reference == "ratiometric":
        return (f"{where}.tolerance.reference: counts for nothing, the divider is ratiometric",)
    return ()
