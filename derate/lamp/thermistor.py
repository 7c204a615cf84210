"""Thermistor: its resistance against temperature, stated in one of four ways."""

import csv
import itertools
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Self

import numpy as np
from pydantic import BeforeValidator, ValidationInfo, model_validator

from derate.lamp.part import Part
from derate.lamp.quantities import POSITIVE, Celsius, Kelvin, Ohm, Unit, check, source_of
from derate.lamp.sentence import shown, wrong

_ZERO_C_IN_K = 273.15
_LEAST_OHM, _MOST_OHM = 0.1, 1e9  # no thermistor that a divider can read lies outside
_WAYS = ("steinhart_hart", "points", "table", "b_value")
_COLUMNS = ("temperature_c", "resistance_ohm")
_HEAD = ",".join(_COLUMNS)

_Coefficient = Annotated[float, Unit("1/K", "per_k", "a coefficient such as 1.1e-3")]
Pair = tuple[Celsius, Annotated[Ohm, POSITIVE]]


def _pairs(value: Any) -> Any:
    for index, pair in enumerate(value if isinstance(value, list | tuple) else ()):
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise wrong('a pair such as ["25 degC", "10 kohm"]', key=(index,))
    return value


def _coefficients(value: Any) -> Any:
    """The coefficients are printed as bare numbers everywhere, so a file may write them so."""
    if not isinstance(value, list | tuple):
        return value
    return [
        f"{entry!r} 1/K"
        if isinstance(entry, int | float) and not isinstance(entry, bool)
        else entry
        for entry in value
    ]


def _table(value: Any, info: ValidationInfo) -> Any:
    if not isinstance(value, str):
        return _pairs(value)
    source = source_of(info)
    path = Path(source.folder if source and source.folder else ".") / value
    try:
        if not path.is_file():
            raise FileNotFoundError(path)
        with path.open(encoding="utf-8-sig", newline="") as file:
            return list(_rows(csv.reader(file)))
    except (OSError, UnicodeDecodeError, csv.Error, ValueError) as error:
        if isinstance(error, ValueError) and error.args and error.args[0] == "row":
            raise wrong(error.args[2], found=f"{shown(value)} with {error.args[1]}") from None
        due = f"a CSV file with the columns {_HEAD} beside the lamp file"
        raise wrong(due, found=f"{shown(value)}, which cannot be read") from None


def _rows(lines: Iterator[list[str]]) -> Iterator[tuple[str, str]]:
    rows = (row for row in lines if row and not row[0].lstrip().startswith("#"))
    head = [cell.strip() for cell in next(rows, [])]
    if tuple(head) != _COLUMNS:
        raise ValueError("row", f"the columns {shown(','.join(head))}", "the columns " + _HEAD)
    for row in rows:
        try:
            at_c, resistance_ohm = (float(cell) for cell in row)
        except ValueError:
            at_c = resistance_ohm = math.nan
        if not (math.isfinite(at_c) and 0 < resistance_ohm < math.inf):
            due = "two numbers in each row, the resistance above zero"
            raise ValueError("row", f"the row {shown(','.join(row))}", due)
        yield f"{at_c!r} degC", f"{resistance_ohm!r} ohm"


class Thermistor(Part):
    """An NTC: exactly one of Steinhart-Hart coefficients, three points, a table or a B value."""

    steinhart_hart: (
        Annotated[
            tuple[_Coefficient, ...],
            BeforeValidator(_coefficients),
            check(lambda values: len(values) == 3, "three coefficients"),
        ]
        | None
    ) = None
    points: (
        Annotated[
            tuple[Pair, ...],
            BeforeValidator(_pairs),
            check(lambda pairs: len(pairs) == 3, "three pairs of temperature and resistance"),
        ]
        | None
    ) = None
    table: (
        Annotated[
            tuple[Pair, ...],
            BeforeValidator(_table),
            check(lambda pairs: len(pairs) >= 2, "two or more pairs of temperature and resistance"),
        ]
        | None
    ) = None
    b_value_k: Annotated[Kelvin, POSITIVE] | None = None
    resistance_25_ohm: Annotated[Ohm, POSITIVE] | None = None
    range_c: Annotated[
        tuple[Celsius, ...],
        check(lambda ends: len(ends) == 2, "two temperatures"),
        check(lambda ends: ends[0] < ends[1], "the lower temperature first"),
    ] = (-40.0, 125.0)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        given = [way for way in _WAYS if getattr(self, "b_value_k" if way == "b_value" else way)]
        if len(given) != 1:
            found = " and ".join(given) or "none of them"
            raise wrong("exactly one of " + ", ".join(_WAYS), found=found)
        if (self.b_value_k is None) != (self.resistance_25_ohm is None):
            missing = "b_value" if self.b_value_k is None else "resistance_25"
            raise wrong("both b_value and resistance_25", found="nothing", key=(missing,))
        for key in ("points", "table"):
            _falling(key, getattr(self, key))
        if self.table and not (
            self.table[0][0] <= self.range_c[0] and self.range_c[1] <= self.table[-1][0]
        ):
            due = f"a range within the table, {self.table[0][0]:g} to {self.table[-1][0]:g} degC"
            found = f"{self.range_c[0]:g} to {self.range_c[1]:g} degC"
            raise wrong(due, found=found, key=("range",))
        if self.steinhart_hart:
            _plausible("steinhart_hart", self.steinhart_hart, self.range_c)
        if self.points:
            given_ohm = [resistance_ohm for _, resistance_ohm in self.points]
            _plausible("points", _through(self.points), self.range_c, given_ohm)
        return self


def _falling(key: str, pairs: tuple[tuple[float, float], ...] | None) -> None:
    ordered = sorted(pairs or ()) if key == "points" else list(pairs or ())
    for (low_c, low_ohm), (high_c, high_ohm) in itertools.pairwise(ordered):
        if not low_c < high_c:
            due = "temperatures that differ" if key == "points" else "temperatures that rise"
            raise wrong(due, found=f"{low_c:g} degC before {high_c:g} degC", key=(key,))
        if not low_ohm > high_ohm:
            found = f"{high_ohm:g} ohm at {high_c:g} degC after {low_ohm:g} ohm at {low_c:g} degC"
            raise wrong("a resistance that falls as temperature rises", found=found, key=(key,))


def _through(points: tuple[tuple[float, float], ...]) -> tuple[float, ...]:
    """Steinhart-Hart coefficients through three points: 1/T = a + b ln R + c (ln R)^3."""
    log_ohm = np.log([resistance_ohm for _, resistance_ohm in points])
    inverse = [1 / (at_c + _ZERO_C_IN_K) for at_c, _ in points]
    terms = np.stack([np.ones(3), log_ohm, log_ohm**3], axis=1)
    try:
        return tuple(float(value) for value in np.linalg.solve(terms, inverse))
    except np.linalg.LinAlgError:
        raise wrong("three points further apart", key=("points",)) from None


def _plausible(
    key: str,
    coefficients: tuple[float, ...],
    range_c: tuple[float, ...],
    given_ohm: Sequence[float] = (),
) -> None:
    """Over the range the curve must fall, between resistances that exist and past those given."""
    a, b, c = coefficients
    x = np.linspace(np.log(_LEAST_OHM), np.log(_MOST_OHM), 2000)
    with np.errstate(all="ignore"):
        inverse = a + b * x + c * x**3
        rises = np.diff(inverse) > 0
    hot, cold = 1 / (range_c[1] + _ZERO_C_IN_K), 1 / (range_c[0] + _ZERO_C_IN_K)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], rises, [False])).astype(int)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        covers = inverse[first] <= hot and cold <= inverse[last]
        if covers and all(x[first] <= np.log(ohm) <= x[last] for ohm in given_ohm):
            return
    raise wrong(
        f"a curve whose resistance falls from {range_c[0]:g} to {range_c[1]:g} degC"
        f" and stays between {_LEAST_OHM:g} ohm and {_MOST_OHM / 1e9:g} Gohm",
        key=(key,),
    )
