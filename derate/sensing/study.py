"""All that is asked of one sensor at once: its table, error budget, resistors, a threshold."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing.budget import Budget, budget
from derate.sensing.chosen import table_for
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import Situation, situated, situation_of
from derate.sensing.design import Candidate, design
from derate.sensing.montecarlo import Confirmation, confirm
from derate.sensing.tables import TRADE_ERRORS_K, ReadingTable, trade
from derate.sensing.threshold import Threshold, threshold
from derate.sensing.wanted import DEFAULT, Wanted

__all__ = ["DEFAULT", "ReadingStudy", "Wanted", "study_lamp", "study_sensor", "table_for"]

NOTHING_ELSE = Situation()
UNITS = 2000
"""Units drawn to confirm the budget: enough to see the middle 99.7 %."""


@dataclass(frozen=True, eq=False)
class ReadingStudy:
    """One sensor, the table chosen for it and what is known of its readings.

    ``tables``: of every kind over a range of errors; ``candidates``: divider resistors, best
    first; ``source``: where all of it comes from, name to text.
    """

    name: str
    sensor: Sensor
    circuit: Circuit
    situation: Situation
    wanted: Wanted
    table: ReadingTable
    tables: tuple[ReadingTable, ...]
    budget: Budget
    confirmed: Confirmation
    candidates: tuple[Candidate, ...]
    threshold: Threshold | None
    warnings: tuple[str, ...]
    source: dict[str, str] = field(default_factory=dict)

    @property
    def interest_c(self) -> tuple[float, float]:
        """The range of interest [degC], over which resistors are judged."""
        return self.wanted.interest_c or self.range_c

    @property
    def range_c(self) -> tuple[float, float]:
        """The working range [degC]."""
        low_c, high_c = self.sensor.thermistor.range_c
        return low_c, high_c

    @property
    def at_worst_k(self) -> tuple[float, float]:
        """Least and most error [K] of a reading over the working range, at worst."""
        return (
            float(np.min(self.budget.at_worst_low_k)),
            float(np.max(self.budget.at_worst_high_k)),
        )

    @property
    def present(self) -> Candidate:
        """The divider resistor that is in the sensor."""
        return next(one for one in self.candidates if one.present)

    @property
    def best_by_resolution(self) -> Candidate | None:
        """The resistor that reads finest over the range of interest, None when none is usable."""
        return min(self._usable, key=lambda one: one.worst_k_per_code, default=None)

    @property
    def best_by_error(self) -> Candidate | None:
        """The resistor that errs least over the range of interest, None when none is usable."""
        return min(self._usable, key=lambda one: one.worst_error_k, default=None)

    @property
    def _usable(self) -> list[Candidate]:
        return [one for one in self.candidates if one.refused is None]


def study_sensor(
    sensor: Sensor,
    *,
    name: str = "ntc",
    situation: Situation = NOTHING_ELSE,
    wanted: Wanted = DEFAULT,
    ambient_c: tuple[float, float] | None = None,
    ramp_k_per_s: float | None = None,
    warnings: Sequence[str] = (),
    source: dict[str, str] | None = None,
) -> ReadingStudy:
    """Table, budget and resistors of a sensor; no lamp is needed.

    ``ambient_c`` [degC], coldest and warmest, and ``ramp_k_per_s`` [K/s] stand in for those of the
    situation.
    Raises InputError when no table of the kind keeps to what is wanted, or the chain leaves no
    room for its fault windows.
    """
    where = f"sensors.{name}"
    situation = situated(situation, ambient_c=ambient_c, ramp_k_per_s=ramp_k_per_s)
    circuit = circuits.from_lamp(sensor, where=where)
    range_c = sensor.thermistor.range_c
    low_c, high_c = wanted.interest_c or range_c
    table = table_for(circuit, range_c, wanted, where=where)
    found = budget(sensor, situation=situation, table=table, where=where)
    limit = None
    if wanted.threshold_c is not None:
        limit = threshold(sensor, wanted.threshold_c, situation=situation, table=table, where=where)
    candidates = design(
        sensor,
        low_c,
        high_c,
        series=wanted.series,
        aim=wanted.aim,
        situation=situation,
        max_error_k=table.error_k,
    )
    return ReadingStudy(
        name,
        sensor,
        circuit,
        situation,
        wanted,
        table,
        _trade(circuit, range_c, wanted, where),
        found,
        confirm(found, units=UNITS, seed=wanted.seed),
        tuple(candidates),
        limit,
        (*warnings, *found.lost, *found.notes),
        dict(source or {}),
    )


def study_lamp(
    lamp: Lamp,
    name: str | None = None,
    *,
    wanted: Wanted = DEFAULT,
    bits: int | None = None,
    ambient_c: tuple[float, float] | None = None,
    ramp_k_per_s: float | None = None,
) -> ReadingStudy:
    """The study of one sensor of a lamp, the first by default, ``bits`` of its ADC if given.

    ``ambient_c`` [degC] and ``ramp_k_per_s`` [K/s]: in place of the air of all its profiles and a
    steady temperature.
    """
    from derate.sensing.chain import Chain

    chosen = name or next(iter(lamp.sensors))
    if chosen not in lamp.sensors:
        raise InputError(f'no sensor is called "{chosen}"; due is one of {", ".join(lamp.sensors)}')
    if bits is not None:
        lamp = lamp.with_changes({f"sensors.{chosen}.adc.bits": bits})
    source = {"lamp": lamp.name}
    if lamp.source:
        source["lamp_file"] = lamp.source.name
    if lamp.sha256:
        source["lamp_sha256"] = lamp.sha256
    return study_sensor(
        lamp.toleranced(chosen),
        name=chosen,
        situation=situation_of(lamp),
        wanted=wanted,
        ambient_c=ambient_c,
        ramp_k_per_s=ramp_k_per_s,
        warnings=Chain(lamp, chosen).warnings,
        source=source,
    )


def _trade(
    circuit: Circuit, range_c: tuple[float, ...], wanted: Wanted, where: str
) -> tuple[ReadingTable, ...]:
    """Tables of all kinds over a range of errors, the one wanted among them."""
    errors_k = {*TRADE_ERRORS_K, *([wanted.error_k] if wanted.error_k else [])}
    return tuple(trade(circuit, range_c, errors_k=tuple(errors_k), scale=wanted.scale, where=where))
