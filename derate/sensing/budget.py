"""The error budget of a sensor: how far its reading may lie from the truth, and why.

Each cause is taken to both its limits in the whole chain, the others left ideal, and the code is
read back through the ideal chain; nothing is linearised. Three sums answer three questions:

- worst: all signed extremes added. Simple, and never less than one cause alone.
- corner: every combination of limits put through the chain at once, and the extreme codes read by
  the firmware's own table. No unit within its limits reads further off: a bound, not a search.
  At the ends of the working range the table stays at its last value, so that this is less there.
- bias and rss: the middles of all causes added, their halves root-sum-squared. An estimate.

What is said to be "at worst" is the wider of worst sum and worst unit (corner).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.lamp.sensor import Sensor
from derate.sensing import deviation as place
from derate.sensing.contribution import STEADY, Cause, Contribution, Situation, ends_of
from derate.sensing.deviation import corner_lsb, errors_k
from derate.sensing.lookup import MAX_ERROR_K, healthy_codes, ideal_reading_c
from derate.sensing.prepared import Study, study
from derate.sensing.reading_table import ReadingTable, readings

Array = NDArray[np.float64]

STEP_K = 5.0
"""Distance of the temperatures of a budget when none are asked for."""


@dataclass(frozen=True, eq=False)
class Budget:
    """Errors [K] at each of ``temperatures_c`` [degC] of the place the sensor is mounted on.

    Reading minus truth, so that below zero it reads cold. See the module for the three sums:
    ``worst_*``: the worst sum; ``corner_*``: the worst unit; ``at_worst_*``: the wider of both.
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

    @property
    def at_worst_low_k(self) -> Array:
        """Least error [K] by worst sum or worst unit, whichever is lower."""
        return np.minimum(self.worst_low_k, self.corner_low_k)

    @property
    def at_worst_high_k(self) -> Array:
        """Most error [K] by worst sum or worst unit, whichever is higher."""
        return np.maximum(self.worst_high_k, self.corner_high_k)


def budget(
    sensor: Sensor,
    temperatures_c: ArrayLike | None = None,
    *,
    situation: Situation = STEADY,
    max_error_k: float = MAX_ERROR_K,
    table: ReadingTable | None = None,
    where: str = "sensor",
) -> Budget:
    """The error budget of a sensor; without ``temperatures_c`` [degC], over its working range.

    ``table``: the one that the firmware reads with, made for this sensor; without it that of the
    lamp's controller, within ``max_error_k`` [K].
    """
    ready = study(sensor, situation, max_error_k=max_error_k, table=table, where=where)
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
    table: ReadingTable | None = None,
    where: str = "sensor",
) -> tuple[float, float]:
    """Least and most error [K] of a reading at ``celsius`` [degC] at worst, for guard bands."""
    found = budget(
        sensor, celsius, situation=situation, max_error_k=max_error_k, table=table, where=where
    )
    return float(found.at_worst_low_k[0]), float(found.at_worst_high_k[0])


def _inside(site_c: Array, range_c: tuple[float, ...], where: str) -> None:
    for celsius in site_c:
        if not range_c[0] <= celsius <= range_c[1]:
            raise InputError(
                f"{where}: found {celsius:g} degC, due a temperature within the working range of"
                f" {range_c[0]:g} to {range_c[1]:g} degC"
            )


def _summed(ready: Study, site_c: Array, sensor: Sensor, where: str) -> Budget:
    ends = ends_of(ready.causes)
    reach = corner_lsb(ready.circuit, ready.body, _without(ends, place.QUANTUM), site_c)
    alone = [_alone(ready, cause, site_c) for cause in ready.causes]
    contributions = (*alone, _table(ready, reach, where))
    low_k = np.array([one.worst_low_k for one in contributions])
    high_k = np.array([one.worst_high_k for one in contributions])
    corner_k = _read(ready, reach) - site_c[:, None]
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


def _read(ready: Study, reach: Array) -> Array:
    """Least and most reading [degC] of any code of ``reach`` [LSB] that is no fault."""
    window = ready.table.window
    first, last = window.low_code + 1, window.high_code - 1
    read_c = readings(ready.table, np.arange(first, last + 1)) / ready.table.scale
    return _extremes(read_c, first, reach)


def _table(ready: Study, reach: Array, where: str) -> Contribution:
    """Interpolation and rounding at every code that a unit can give, against the ideal chain."""
    codes = healthy_codes(ready.circuit, ready.range_c, where=where)
    read_c = readings(ready.table, codes) / ready.table.scale
    wrong_k = read_c - ideal_reading_c(ready.circuit, codes)
    low_k, high_k = _extremes(wrong_k, int(codes[0]), reach).T
    return Contribution("table", low_k, high_k, "interpolation and rounding, every code")


def _extremes(of_code: Array, first: int, reach: Array) -> Array:
    """Least and most of ``of_code``, from code ``first`` on, between the two codes of each row."""
    found = np.empty((len(reach), 2))
    ends = np.clip(np.floor(reach).astype(np.int64) - first, 0, len(of_code) - 1)
    for i, (least, most) in enumerate(ends):
        near = of_code[least : most + 1]
        found[i] = near.min(), near.max()
    return found


def _lost(ready: Study, reach: Array, site_c: Array, where: str) -> tuple[str, ...]:
    window = ready.table.window
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
