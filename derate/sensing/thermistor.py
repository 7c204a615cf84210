"""A thermistor from what its maker prints: coefficients, a few points, a table or a B value.

Points are fitted by the model asked for, or else by the one that foretells each of them best from
the others: 2 give a B value, 3 a Steinhart-Hart curve through them, 4 or more one of

    1/T = a + b ln R + c (ln R)^3                    Steinhart-Hart
    1/T = a + b ln R + c (ln R)^2 + d (ln R)^3       polynomial
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.lamp.thermistor import Thermistor
from derate.monotone import slopes
from derate.sensing.doubts import doubts, rounding_k
from derate.sensing.ntc import (
    HIGHEST_C,
    KELVIN_AT_0_C,
    LOWEST_C,
    REFERENCE_C,
    Ntc,
    resistance_ohm,
    temperature_c,
)
from derate.sensing.polynomial import LOG_OHM_LIMIT, segment
from derate.sensing.regression import POWERS, regression

NO_TABLE = np.zeros((3, 0))
MISFIT_K = 0.1
"""A model further off its own points than this, beyond their rounding, is said to misfit.

It is what the reading table may err by: a model should not spoil more than the table does.
"""
LEAST_SPAN_K = 80.0
"""Points must span this much for four terms: over less, three terms are exact to the rounding."""
TWO_POINTS_REACH_K = 25.0
"""Beyond two points by this much, real parts leave the B value through them by up to a kelvin."""


class Fit(NamedTuple):
    """A curve through or near points.

    ``model``: "b-value", "steinhart-hart", "polynomial" or "table"; ``coefficients`` [1/K]: of
    rising powers of ln R, zeros left out, none for a table; ``residual_k`` [K]: curve minus point,
    for each point in rising order of temperature; ``why``: how the model was chosen.
    """

    ntc: Ntc
    model: str
    coefficients: tuple[float, ...]
    celsius: NDArray[np.float64]
    ohm: NDArray[np.float64]
    residual_k: NDArray[np.float64]
    why: str


def b_value_k(first_c: float, first_ohm: float, second_c: float, second_ohm: float) -> float:
    """B value [K] between two points: ln(R1/R2) / (1/T1 - 1/T2), T in kelvin (IEC 60539)."""
    span = 1.0 / (first_c + KELVIN_AT_0_C) - 1.0 / (second_c + KELVIN_AT_0_C)
    return math.log(first_ohm / second_ohm) / span


def from_coefficients(a: float, b: float, c: float, *, where: str = "thermistor") -> Ntc:
    """From Steinhart-Hart coefficients [1/K, R in ohm]; R must fall from -55 to 200 degC."""
    ntc = Ntc(float(a), float(b), float(c), NO_TABLE)
    if not _falls(ntc):
        raise InputError(_never_falls("Steinhart-Hart", (a, b, c), where))
    return ntc


def from_b_value(b_k: float, r25_ohm: float, *, where: str = "thermistor") -> Ntc:
    """From the B value [K] and the resistance at 25 degC [ohm]: R = R25 exp(B/T - B/T25)."""
    if not (b_k > 0.0 and r25_ohm > 0.0):
        raise InputError(
            f"{where}: the B value {b_k:g} K and resistance {r25_ohm:g} ohm must be above zero"
        )
    inverse_k = 1.0 / (REFERENCE_C + KELVIN_AT_0_C)
    return from_coefficients(inverse_k - math.log(r25_ohm) / b_k, 1.0 / b_k, 0.0, where=where)


def from_points(celsius: ArrayLike, ohm: ArrayLike, *, where: str = "thermistor") -> Ntc:
    """Through exactly three points [degC], [ohm]: the 3x3 system solved by divided differences."""
    t, r = _pairs(celsius, ohm, 3, where)
    if len(t) != 3:
        raise InputError(f"{where}: {len(t)} points are given; exactly 3 are due")
    y, log_ohm = 1.0 / (t + KELVIN_AT_0_C), np.log(r)
    l1, l2, l3 = (float(v) for v in log_ohm)
    g2, g3 = (float((y[i] - y[0]) / (log_ohm[i] - l1)) for i in (1, 2))
    total = l1 + l2 + l3
    if abs(total) < 1e-9 * (abs(l1) + abs(l2) + abs(l3)):
        raise InputError(f"{where}: the three points do not determine the coefficients")
    c = (g3 - g2) / ((l3 - l2) * total)
    b = g2 - c * (l1 * l1 + l1 * l2 + l2 * l2)
    return from_coefficients(float(y[0]) - (b + l1 * l1 * c) * l1, b, c, where=where)


def from_polynomial(
    a: float,
    b: float,
    c: float,
    d: float,
    *,
    reference_ohm: float = 1.0,
    where: str = "thermistor",
) -> Ntc:
    """From 1/T = a + b L + c L^2 + d L^3 [1/K], L = ln(R / ``reference_ohm``), -55 to 200 degC."""
    given = (float(a), float(b), float(c), float(d))
    table = segment(Polynomial(given))
    if table is None or not reference_ohm > 0.0:
        raise InputError(_never_falls("polynomial", given, where))
    table[0] += math.log(reference_ohm)
    return Ntc(0.0, 0.0, 0.0, table)


def from_table(celsius: ArrayLike, ohm: ArrayLike, *, where: str = "thermistor") -> Ntc:
    """From a maker's table [degC, rising], [ohm, falling]: monotone cubic of 1/T against ln R."""
    t, r = _pairs(celsius, ohm, 2, where)
    log_ohm, inverse_k = np.log(r)[::-1], 1.0 / (t + KELVIN_AT_0_C)[::-1]
    slope = slopes(log_ohm, inverse_k)
    for end, inner in ((0, 1), (-1, -2)):
        if slope[end] <= 0.0:
            rise = inverse_k[inner] - inverse_k[end]
            slope[end] = rise / (log_ohm[inner] - log_ohm[end])
    return Ntc(0.0, 0.0, 0.0, np.ascontiguousarray([log_ohm, inverse_k, slope]))


def fit(
    celsius: ArrayLike, ohm: ArrayLike, *, model: str | None = None, where: str = "thermistor"
) -> Fit:
    """A curve from two or more points [degC], [ohm], by ``model`` or the one that suits best.

    ``model``: "b-value", "steinhart-hart", "polynomial", "table". Raises InputError when the
    points are too few for it, or the curve does not fall from -55 to 200 degC.
    """
    t, r = _pairs(celsius, ohm, len(POWERS[model]) if model in POWERS else 2, where)
    if model == "table":
        return _fit_of(from_table(t, r, where=where), "table", (), t, r, "as asked")
    if model is not None:
        return _fitted(model, t, r, "as asked", where)
    if len(t) <= 3:
        return _fitted(("b-value", "steinhart-hart")[len(t) - 2], t, r, f"{len(t)} points", where)
    return _chosen(t, r, where)


def fit_residuals(ntc: Ntc, celsius: ArrayLike, ohm: ArrayLike) -> NDArray[np.float64]:
    """Curve minus points [K]: positive where the curve reads hot at a point [degC], [ohm]."""
    return np.asarray(temperature_c(ntc, ohm) - np.asarray(celsius, float))


def fit_of(thermistor: Thermistor, *, where: str = "thermistor") -> Fit | None:
    """The fit behind the points or table of a lamp file; None for coefficients and a B value."""
    if thermistor.points is not None:
        t, r = zip(*thermistor.points, strict=True)
        return fit(t, r, model=thermistor.model, where=f"{where}.points")
    if thermistor.table is not None:
        t, r = zip(*thermistor.table, strict=True)
        return fit(t, r, model=thermistor.model or "table", where=f"{where}.table")
    return None


def from_lamp(thermistor: Thermistor, *, where: str = "thermistor") -> Ntc:
    """From the thermistor of a lamp file, which holds exactly one description."""
    made = fit_of(thermistor, where=where)
    if made is not None:
        return made.ntc
    r25_ohm = thermistor.resistance_25_ohm
    if thermistor.steinhart_hart is not None:
        return from_coefficients(*thermistor.steinhart_hart, where=f"{where}.steinhart_hart")
    if thermistor.polynomial is not None:
        place, reference = f"{where}.polynomial", 1.0 if r25_ohm is None else r25_ohm
        return from_polynomial(*thermistor.polynomial, reference_ohm=reference, where=place)
    if thermistor.b_value_k is None or r25_ohm is None:
        raise InputError(f"{where}: a B value and the resistance at 25 degC are due")
    return from_b_value(thermistor.b_value_k, r25_ohm, where=f"{where}.b_value")


def warnings(thermistor: Thermistor, *, where: str = "thermistor") -> list[str]:
    """Sentences on points that do not look measured, and on a model that does not fit them."""
    made = fit_of(thermistor, where=where)
    if made is None:
        return []
    found = doubts(made.celsius, made.ohm)
    worst = int(np.argmax(np.abs(made.residual_k)))
    rounded_k = float(np.max(rounding_k(made.celsius, made.ohm)))
    if abs(made.residual_k[worst]) > MISFIT_K + rounded_k:
        found.append(
            f"the {made.model} model misses the point at {made.celsius[worst]:g} degC by"
            f" {abs(made.residual_k[worst]):.2g} K: it does not fit these points"
        )
    low_c, high_c = thermistor.range_c
    reach_k = max(made.celsius[0] - low_c, high_c - made.celsius[-1])
    if len(made.celsius) == 2 and reach_k > TWO_POINTS_REACH_K:
        found.append(
            f"two points give a B value, and the range goes {reach_k:.0f} K beyond them, where real"
            " parts leave it by kelvins: a third point or a table is better"
        )
    return found


def _chosen(t: NDArray[np.float64], r: NDArray[np.float64], where: str) -> Fit:
    """Steinhart-Hart, unless four terms are sound and foretell the points better."""
    three = regression("steinhart-hart", t, r).foretold_k
    four = regression("polynomial", t, r).foretold_k
    span_k = t[-1] - t[0]
    figures = f"points foretold from the others to {three:.2g} K with 3 terms, {four:.2g} K with 4"
    if span_k < LEAST_SPAN_K or four == math.inf:
        return _fitted("steinhart-hart", t, r, "too few points or too narrow for 4 terms", where)
    if four < three:
        try:
            return _fitted("polynomial", t, r, figures, where)
        except InputError:
            figures += ", but these do not fall everywhere"
    return _fitted("steinhart-hart", t, r, figures, where)


def _fitted(
    model: str, t: NDArray[np.float64], r: NDArray[np.float64], why: str, where: str
) -> Fit:
    if model == "steinhart-hart" and len(t) == 3:
        ntc = from_points(t, r, where=where)
        return _fit_of(ntc, model, (ntc.a, ntc.b, ntc.c), t, r, why)
    found = regression(model, t, r).curve.coef
    given = tuple(float(found[n]) for n in POWERS[model])
    if model == "polynomial":
        ntc = from_polynomial(*given, where=where)
    else:
        ntc = from_coefficients(*given, *((0.0,) if model == "b-value" else ()), where=where)
    return _fit_of(ntc, model, given, t, r, why)


def _fit_of(
    ntc: Ntc,
    model: str,
    coefficients: tuple[float, ...],
    t: NDArray[np.float64],
    r: NDArray[np.float64],
    why: str,
) -> Fit:
    return Fit(ntc, model, coefficients, t, r, fit_residuals(ntc, t, r), why)


def _never_falls(name: str, coefficients: tuple[float, ...], where: str) -> str:
    return (
        f"{where}: the {name} coefficients {', '.join(f'{x:g}' for x in coefficients)} give no"
        f" resistance that falls from {LOWEST_C:g} to {HIGHEST_C:g} degC, as an NTC's must"
    )


def _pairs(celsius: ArrayLike, ohm: ArrayLike, least: int, where: str) -> tuple[np.ndarray, ...]:
    """Temperatures rising and resistances falling, or a sentence that says which row is not."""
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    if len(t) != len(r) or len(t) < least:
        raise InputError(f"{where}: {len(t)} rows are given; at least {least} are due")
    order = np.argsort(t)
    t, r = t[order], r[order]
    if not (r[-1] > 0.0 and t[0] > -KELVIN_AT_0_C):
        raise InputError(f"{where}: resistances must be above zero and temperatures above 0 K")
    for i in range(len(t) - 1):
        if not (t[i + 1] > t[i] and r[i + 1] < r[i]):
            raise InputError(
                f"{where}: {r[i]:g} ohm at {t[i]:g} degC is followed by {r[i + 1]:g} ohm at"
                f" {t[i + 1]:g} degC; the resistance must fall as the temperature rises"
            )
    return t, r


def _falls(ntc: Ntc) -> bool:
    """Whether the resistance falls all the way over the valid range."""
    if not (ntc.b > 0.0 and math.isfinite(ntc.a) and math.isfinite(ntc.c)):
        return False
    grid = resistance_ohm(ntc, np.linspace(LOWEST_C, HIGHEST_C, 256))
    if not np.all(np.isfinite(grid)) or np.any(grid <= 0.0):
        return False
    log_ohm = np.log(grid)
    rising = ntc.b + 3.0 * ntc.c * log_ohm**2 > 0.0
    sane = np.abs(log_ohm) < LOG_OHM_LIMIT
    return bool(np.all(rising & sane) and np.all(np.diff(grid) < 0.0))
