"""A thermistor from what its maker prints: coefficients, three points, a table or a B value."""

import math

import numpy as np
from numpy.typing import ArrayLike

from derate.errors import InputError
from derate.lamp.thermistor import Thermistor
from derate.sensing.ntc import HIGHEST_C, KELVIN_AT_0_C, LOWEST_C, Ntc, resistance_ohm

REFERENCE_C = 25.0
NO_TABLE = np.zeros((3, 0))
COMPUTED_B_SPREAD = 0.001
"""A printed table whose B value varies by less than this share looks computed, not measured.

Common practice: real parts vary by 1 to 4 % over 100 K, and rounding to 3 digits by 0.1 %.
"""
LOG_OHM_LIMIT = 40.0
"""|ln R| beyond any part; larger ones come from a slip in the coefficients."""


def b_value_k(first_c: float, first_ohm: float, second_c: float, second_ohm: float) -> float:
    """B value [K] between two points: ln(R1/R2) / (1/T1 - 1/T2), T in kelvin (IEC 60539)."""
    span = 1.0 / (first_c + KELVIN_AT_0_C) - 1.0 / (second_c + KELVIN_AT_0_C)
    return math.log(first_ohm / second_ohm) / span


def from_coefficients(a: float, b: float, c: float, *, where: str = "thermistor") -> Ntc:
    """From Steinhart-Hart coefficients [1/K, R in ohm]; R must fall from -55 to 200 degC."""
    ntc = Ntc(float(a), float(b), float(c), NO_TABLE)
    if not _falls(ntc):
        raise InputError(
            f"{where}: the Steinhart-Hart coefficients {a:g}, {b:g}, {c:g} give no resistance that"
            f" falls from {LOWEST_C:g} to {HIGHEST_C:g} degC, as an NTC's must"
        )
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


def from_table(celsius: ArrayLike, ohm: ArrayLike, *, where: str = "thermistor") -> Ntc:
    """From a maker's table [degC, rising], [ohm, falling]: monotone cubic of 1/T against ln R."""
    from scipy.interpolate import PchipInterpolator

    t, r = _pairs(celsius, ohm, 2, where)
    log_ohm, inverse_k = np.log(r)[::-1], 1.0 / (t + KELVIN_AT_0_C)[::-1]
    slope = PchipInterpolator(log_ohm, inverse_k).derivative()(log_ohm)
    for end, inner in ((0, 1), (-1, -2)):
        if slope[end] <= 0.0:
            rise = inverse_k[inner] - inverse_k[end]
            slope[end] = rise / (log_ohm[inner] - log_ohm[end])
    return Ntc(0.0, 0.0, 0.0, np.ascontiguousarray([log_ohm, inverse_k, slope]))


def from_lamp(thermistor: Thermistor, *, where: str = "thermistor") -> Ntc:
    """From the thermistor of a lamp file, which holds exactly one of the four descriptions."""
    if thermistor.steinhart_hart is not None:
        return from_coefficients(*thermistor.steinhart_hart, where=f"{where}.steinhart_hart")
    if thermistor.points is not None:
        return from_points(*zip(*thermistor.points, strict=True), where=f"{where}.points")
    if thermistor.table is not None:
        rows = np.asarray(thermistor.table, float)
        return from_table(rows[:, 0], rows[:, 1], where=f"{where}.table")
    b_k, r25_ohm = thermistor.b_value_k, thermistor.resistance_25_ohm
    if b_k is None or r25_ohm is None:
        raise InputError(f"{where}: a B value and the resistance at 25 degC are due")
    return from_b_value(b_k, r25_ohm, where=f"{where}.b_value")


def looks_computed(celsius: ArrayLike, ohm: ArrayLike) -> bool:
    """Whether a table follows one B value so closely that nobody can have measured it."""
    t, r = np.asarray(celsius, float), np.asarray(ohm, float)
    reference = int(np.argmin(np.abs(t - REFERENCE_C)))
    far = np.abs(t - t[reference]) >= 25.0
    if np.count_nonzero(far) < 2:
        return False
    span = 1.0 / (t[far] + KELVIN_AT_0_C) - 1.0 / (t[reference] + KELVIN_AT_0_C)
    values = np.log(r[far] / r[reference]) / span
    return bool(np.ptp(values) < COMPUTED_B_SPREAD * np.mean(values))


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
