"""All that is asked of one sensor at once: its table, error budget, resistors, a threshold."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing.budget import Budget, budget
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import Situation, situation_of
from derate.sensing.design import Candidate, design
from derate.sensing.lookup import MAX_ERROR_K
from derate.sensing.montecarlo import Confirmation, confirm
from derate.sensing.tables import KINDS, TRADE_ERRORS_K, ReadingTable, build_table, trade
from derate.sensing.threshold import Threshold, threshold

LEAST_BUDGET_ERROR_K = 0.011
"""Least error [K] of the table that the budget counts with: rounding to 0.01 K and a little."""
NOTHING_ELSE = Situation()
UNITS = 2000
"""Units drawn to confirm the budget: enough to see the middle 99.7 %."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the table: an error [K] or a size [bytes], a kind, counts per kelvin.

    Without an error and a size the error is 0.1 K, without a kind all kinds are tried.
    ``interest_c`` [degC]: over which divider resistors are judged, the working range by default.
    """

    max_error_k: float | None = None
    max_bytes: int | None = None
    kind: str | None = None
    scale: int = 100
    threshold_c: float | None = None
    interest_c: tuple[float, float] | None = None
    seed: int = 0

    @property
    def error_k(self) -> float | None:
        """The error [K] that the table keeps to, None when its size is asked for."""
        return self.max_error_k or (MAX_ERROR_K if self.max_bytes is None else None)

    def words(self) -> str:
        """What is asked, in one line."""
        parts = [self.kind or "the best of all kinds", f"1/{self.scale} degC"]
        if self.error_k is not None:
            parts.append(f"at most {self.error_k:g} K")
        if self.max_bytes is not None:
            parts.append(f"at most {self.max_bytes} bytes")
        return ", ".join(parts)


DEFAULT = Wanted()


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


def study_sensor(
    sensor: Sensor,
    *,
    name: str = "ntc",
    situation: Situation = NOTHING_ELSE,
    wanted: Wanted = DEFAULT,
    warnings: Sequence[str] = (),
    source: dict[str, str] | None = None,
) -> ReadingStudy:
    """Table, budget and resistors of a sensor; no lamp is needed.

    Raises InputError when no table of the kind keeps to what is wanted, or the chain leaves no
    room for its fault windows.
    """
    where = f"sensors.{name}"
    circuit = circuits.from_lamp(sensor, where=where)
    range_c = sensor.thermistor.range_c
    low_c, high_c = wanted.interest_c or range_c
    table = table_for(circuit, range_c, wanted, where=where)
    error_k = max(table.error_k, LEAST_BUDGET_ERROR_K)
    found = budget(sensor, situation=situation, max_error_k=error_k, where=where)
    limit = None
    if wanted.threshold_c is not None:
        limit = threshold(sensor, wanted.threshold_c, situation=situation, where=where)
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
        tuple(design(sensor, low_c, high_c, situation=situation, max_error_k=error_k)),
        limit,
        (*warnings, *found.lost, *found.notes),
        dict(source or {}),
    )


def study_lamp(
    lamp: Lamp, name: str | None = None, *, wanted: Wanted = DEFAULT, bits: int | None = None
) -> ReadingStudy:
    """The study of one sensor of a lamp, the first by default, ``bits`` of its ADC if given."""
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
        lamp.sensors[chosen],
        name=chosen,
        situation=situation_of(lamp),
        wanted=wanted,
        warnings=Chain(lamp, chosen).warnings,
        source=source,
    )


def table_for(
    circuit: Circuit, range_c: tuple[float, ...], wanted: Wanted, *, where: str = "sensor"
) -> ReadingTable:
    """The table that keeps to what is wanted: 0.1 K at worst unless told otherwise.

    Without a kind: of all kinds the smallest within an error, or the best within a size.
    """

    def made(kind: str) -> ReadingTable:
        return build_table(
            circuit,
            range_c,
            kind=kind,
            max_error_k=wanted.max_error_k,
            max_bytes=wanted.max_bytes,
            scale=wanted.scale,
            where=where,
        )

    if wanted.kind is not None:
        return made(wanted.kind)
    found, refused = [], []
    for kind in KINDS:
        try:
            found.append(made(kind))
        except InputError as error:
            refused.append(error)
    if not found:
        raise refused[-1]
    if wanted.max_bytes is None:
        return min(found, key=lambda table: (table.bytes, table.operations))
    return min(found, key=lambda table: (table.error_k, table.bytes))


def _trade(
    circuit: Circuit, range_c: tuple[float, ...], wanted: Wanted, where: str
) -> tuple[ReadingTable, ...]:
    """Tables of all kinds over a range of errors, the one wanted among them."""
    errors_k = {*TRADE_ERRORS_K, *([wanted.error_k] if wanted.error_k else [])}
    return tuple(trade(circuit, range_c, errors_k=tuple(errors_k), scale=wanted.scale, where=where))
