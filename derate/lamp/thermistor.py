"""Thermistor: its resistance against temperature, stated in one of five ways."""

import csv
import itertools
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import BeforeValidator, ValidationInfo, model_validator

from derate.lamp.part import Part
from derate.lamp.quantities import POSITIVE, Celsius, Kelvin, Ohm, Unit, check, source_of
from derate.lamp.sentence import shown, wrong

_ZERO_C_IN_K = 273.15
_LEAST_OHM, _MOST_OHM = 0.1, 1e9  # no thermistor that a divider can read lies outside
_WAYS = ("steinhart_hart", "polynomial", "points", "table", "b_value")
_LEAST_ROWS = {"b-value": 2, "steinhart-hart": 3, "polynomial": 4, "table": 2}
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
    """An NTC: exactly one of coefficients, points, a table or a B value.

    ``polynomial``: a, b, c, d of 1/T = a + b L + c L^2 + d L^3, L = ln R, or ln(R / R25) when
    ``resistance_25_ohm`` [ohm] is given with it. ``points`` are fitted: two by a B value, three by
    Steinhart-Hart, more by that or a polynomial, whichever foretells them better; ``model`` says
    which instead, "table" for a curve through all. It may be given with ``table`` too.
    """

    steinhart_hart: (
        Annotated[
            tuple[_Coefficient, ...],
            BeforeValidator(_coefficients),
            check(lambda values: len(values) == 3, "three coefficients"),
        ]
        | None
    ) = None
    polynomial: (
        Annotated[
            tuple[_Coefficient, ...],
            BeforeValidator(_coefficients),
            check(lambda values: len(values) == 4, "four coefficients"),
        ]
        | None
    ) = None
    points: (
        Annotated[
            tuple[Pair, ...],
            BeforeValidator(_pairs),
            check(lambda pairs: len(pairs) >= 2, "two or more pairs of temperature and resistance"),
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
    model: Literal["steinhart-hart", "polynomial", "b-value", "table"] | None = None
    b_value_k: Annotated[Kelvin, POSITIVE] | None = None
    resistance_25_ohm: Annotated[Ohm, POSITIVE] | None = None
    range_c: Annotated[
        tuple[Celsius, ...],
        check(lambda ends: len(ends) == 2, "two temperatures"),
        check(lambda ends: ends[0] < ends[1], "the lower temperature first"),
        check(lambda ends: ends[1] <= 300, "temperatures of at most 300 degC"),
    ] = (-40.0, 125.0)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        given = [way for way in _WAYS if getattr(self, "b_value_k" if way == "b_value" else way)]
        if len(given) != 1:
            found = " and ".join(given) or "none of them"
            raise wrong("exactly one of " + ", ".join(_WAYS), found=found)
        alone = self.polynomial is None and self.b_value_k is None
        if (self.b_value_k is not None) > (self.resistance_25_ohm is not None) or (
            alone and self.resistance_25_ohm is not None
        ):
            missing = "b_value" if self.b_value_k is None else "resistance_25"
            raise wrong("both b_value and resistance_25", found="nothing", key=(missing,))
        for key in ("points", "table"):
            _falling(key, getattr(self, key))
        self._check_model()
        if self.steinhart_hart:
            a, b, c = self.steinhart_hart
            _plausible("steinhart_hart", (a, b, 0.0, c), self.range_c)
        if self.polynomial:
            shift = math.log(self.resistance_25_ohm or 1.0)
            _plausible("polynomial", self.polynomial, self.range_c, shift=shift)
        if self.points and len(self.points) == 3 and self.model in (None, "steinhart-hart"):
            given_ohm = [resistance_ohm for _, resistance_ohm in self.points]
            a, b, c = _through(self.points)
            _plausible("points", (a, b, 0.0, c), self.range_c, given_ohm)
        return self

    def _check_model(self) -> None:
        """A model needs rows, enough of them, and to interpolate, rows over the whole range."""
        rows = self.points or self.table
        if rows is None:
            if self.model is not None:
                raise wrong("no model, as there are no points or table to fit", key=("model",))
            return
        least = _LEAST_ROWS[self.model or "table"]
        key = "points" if self.points else "table"
        if len(rows) < least:
            due = f"{least} or more pairs, as the model is {self.model}"
            raise wrong(due, found=f"{len(rows)} pairs", key=(key,))
        ends = sorted(at_c for at_c, _ in rows)
        interpolated = self.model == "table" or (self.table and self.model is None)
        if interpolated and not (ends[0] <= self.range_c[0] and self.range_c[1] <= ends[-1]):
            due = f"a range within the {key}, {ends[0]:g} to {ends[-1]:g} degC"
            found = f"{self.range_c[0]:g} to {self.range_c[1]:g} degC"
            raise wrong(due, found=found, key=("range",))


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
    *,
    shift: float = 0.0,
) -> None:
    """Over the range the curve must fall, between resistances that exist and past those given.

    The coefficients are of rising powers of ln R - ``shift``.
    """
    x = np.linspace(np.log(_LEAST_OHM), np.log(_MOST_OHM), 2000)
    with np.errstate(all="ignore"):
        inverse = np.polynomial.polynomial.polyval(x - shift, coefficients)
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
