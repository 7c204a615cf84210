"""Choosing a reading table: by the error allowed, by the bytes allowed, or all for comparison."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.sensing import code_steps, temperature_steps
from derate.sensing.circuit import Circuit
from derate.sensing.corridor import about
from derate.sensing.lookup import CENTI, MAX_ERROR_K, healthy_codes, ideal_reading_c
from derate.sensing.placed import fewest_segments
from derate.sensing.reading_table import KINDS, ReadingTable, reading, readings
from derate.sensing.straight import reaches
from derate.sensing.window import Window, fault_window

__all__ = ["KINDS", "ReadingTable", "build_table", "reading", "readings", "trade"]

SCALES = (16, 32, 64, CENTI, 128)
"""Counts per kelvin."""
ROUNDING_COUNTS = 0.5 + 1e-6
"""A whole count is off by half of one at least."""
CLOSE_ENOUGH = 1.005
"""Ratio of errors at which a search for the least error of placed knots ends."""
WIDER = 2.0
"""Power of that ratio from one step to the next on the way up to it."""
SEARCH_WORK = 60_000_000
"""Cone steps that each error tried on the way to a number of bytes may take for certainty."""
SAME = 1e-9
"""Share and kelvin by which an error is raised to be asked for again, against rounding."""
ANY_ERROR_K = 300.0
"""As good as no limit: wider than any working range."""
TRADE_ERRORS_K = (2.0, 1.0, 0.5, 0.25, 0.1, 0.05, 0.025)
NO_KNOTS = np.zeros(0, np.uint16)


class _Task(NamedTuple):
    """What a table is made of: healthy codes, and the curve [counts] at each."""

    circuit: Circuit
    codes: NDArray[np.int64]
    curve: NDArray[np.float64]
    scale: int
    window: Window
    where: str

    @property
    def bits(self) -> int:
        """Width of the converter."""
        return int(self.circuit.transfer.full_scale).bit_length() - 1


def build_table(
    circuit: Circuit,
    range_c: tuple[float, ...],
    *,
    kind: str = "placed knots",
    max_error_k: float | None = None,
    max_bytes: int | None = None,
    scale: int = CENTI,
    where: str = "sensor",
) -> ReadingTable:
    """The smallest table of a kind within ``max_error_k`` [K], or the best within ``max_bytes``.

    Without either, ``max_error_k`` is 0.1 K. ``scale``: counts per kelvin, 16, 32, 64, 100 or 128.
    Raises InputError, beginning with ``where``, when no such table exists.
    """
    if kind not in KINDS:
        raise InputError(f"{where}: found table kind '{kind}', due one of {', '.join(KINDS)}")
    allowed(max_error_k, max_bytes, where=where)
    task = _task(circuit, range_c, scale, where)
    if max_bytes is not None:
        found = _WITHIN_BYTES[kind](task, max_bytes)
        limit = f"{max_bytes} bytes"
    else:
        error_k = MAX_ERROR_K if max_error_k is None else max_error_k
        limit = f"{error_k:g} K"
        enough = error_k * scale >= ROUNDING_COUNTS
        found = _WITHIN_ERROR[kind](task, error_k) if enough else None
    if found is None:
        raise InputError(
            f"{where}: no table of kind '{kind}' in steps of 1/{scale} K keeps within {limit};"
            " more is due, or another kind or scale"
        )
    return found


def allowed(max_error_k: float | None, max_bytes: int | None, *, where: str = "sensor") -> None:
    """Refuses limits [K], [bytes] that no table could be asked for."""
    if max_error_k is not None and max_bytes is not None:
        raise InputError(f"{where}: found both an error and a number of bytes, due one of them")
    if max_error_k is not None and not max_error_k > 0.0:
        raise InputError(f"{where}: found an error of {max_error_k:g} K, due one above zero")


def least_error_k(
    circuit: Circuit, range_c: tuple[float, ...], *, scale: int = CENTI, where: str = "sensor"
) -> float:
    """The least error [K] of any table in steps of 1/``scale`` K: rounding alone."""
    return _direct(_task(circuit, range_c, scale, where)).error_k


def smallest_tables(
    circuit: Circuit, range_c: tuple[float, ...], *, scale: int = CENTI, where: str = "sensor"
) -> list[ReadingTable]:
    """The smallest table of each kind, whatever it errs."""
    return trade(circuit, range_c, errors_k=(ANY_ERROR_K,), scale=scale, where=where)


def trade(
    circuit: Circuit,
    range_c: tuple[float, ...],
    *,
    errors_k: tuple[float, ...] = TRADE_ERRORS_K,
    scale: int = CENTI,
    where: str = "sensor",
) -> list[ReadingTable]:
    """Tables of all kinds for a range of errors [K]; kinds that cannot hold an error are absent.

    Kind by kind, each from the smallest table to the largest, equal ones once.
    """
    task = _task(circuit, range_c, scale, where)
    found: list[ReadingTable] = []
    for kind in KINDS:
        sizes: dict[int, ReadingTable] = {}
        for error_k in sorted(errors_k, reverse=True):
            if error_k * scale >= ROUNDING_COUNTS:
                table = _WITHIN_ERROR[kind](task, error_k)
                if table is not None:
                    sizes[table.bytes] = table
        found += [sizes[size] for size in sorted(sizes)]
    return found


def _task(circuit: Circuit, range_c: tuple[float, ...], scale: int, where: str) -> _Task:
    if scale not in SCALES:
        due = ", ".join(map(str, SCALES))
        raise InputError(f"{where}: found {scale} counts per kelvin, due one of {due}")
    window = fault_window(circuit, range_c, where=where)
    codes = healthy_codes(circuit, range_c, where=where)
    curve = scale * ideal_reading_c(circuit, codes)
    if np.max(np.abs(curve)) + scale > code_steps.READING_LIMIT:
        extreme_c = float(curve[np.argmax(np.abs(curve))]) / scale
        raise InputError(
            f"{where}: {extreme_c:.1f} degC in steps of 1/{scale} K do not fit 16 bits;"
            " a coarser scale is due"
        )
    return _Task(circuit, codes, curve, scale, window, where)


def _made(
    task: _Task,
    kind: str,
    values: NDArray[np.int64],
    *,
    codes: NDArray[np.int64] | None = None,
    shift: int = 0,
    lower_bound: int | None = None,
) -> ReadingTable:
    """The table, with its error measured at every healthy code."""
    knots = NO_KNOTS if codes is None else codes.astype(np.uint16)
    first_code = int(task.codes[0]) if codes is None else 0
    table = ReadingTable(
        kind, task.scale, knots, values.astype(np.int16), first_code, shift, task.window, 0.0,
        lower_bound,
    )  # fmt: skip
    error_k = np.max(np.abs(readings(table, task.codes) - task.curve)) / task.scale
    return table._replace(error_k=float(error_k))


def _direct(task: _Task) -> ReadingTable:
    return _made(task, "direct", np.rint(task.curve).astype(np.int64))


def _direct_within_error(task: _Task, error_k: float) -> ReadingTable | None:
    table = _direct(task)
    return table if table.error_k <= error_k else None


def _direct_within_bytes(task: _Task, most: int) -> ReadingTable | None:
    table = _direct(task)
    return table if table.bytes <= most else None


def _steps_within_error(task: _Task, error_k: float) -> ReadingTable | None:
    for shift in range(task.bits, 0, -1):
        values = code_steps.least_error(task.curve, shift, error_k * task.scale)
        if values is not None:
            return _made(task, "code steps", values, shift=shift)
    return None


def _steps_within_bytes(task: _Task, most: int) -> ReadingTable | None:
    for shift in range(1, task.bits + 1):
        cells = max(1, -(-(len(task.codes) - 1) >> shift))
        if 2 * (cells + 3) <= most:
            values = code_steps.least_error(task.curve, shift)
            return None if values is None else _made(task, "code steps", values, shift=shift)
    return None


def _by_segments(task: _Task) -> Callable[[int], ReadingTable | None]:
    """The better of the tables on and off the curve at equal steps of temperature."""
    shift = temperature_steps.KNOT_BITS - task.bits
    first, last = int(task.codes[0]) << shift, int(task.codes[-1]) << shift
    fine = np.arange(first, last + 1) / (1 << shift)
    curve = task.scale * ideal_reading_c(task.circuit, fine)

    def table(segments: int) -> ReadingTable | None:
        found = []
        for shifted in (False, True):
            knots = temperature_steps.knots(curve, first, segments, shifted=shifted)
            if knots is not None and np.max(np.abs(knots[1])) <= code_steps.READING_LIMIT:
                kind = "temperature steps"
                found.append(_made(task, kind, knots[1], codes=knots[0], shift=shift))
        return min(found, key=lambda made: made.error_k, default=None)

    return table


def _temperatures_within_error(task: _Task, error_k: float) -> ReadingTable | None:
    table = _by_segments(task)

    def holds(segments: int) -> bool:
        made = table(segments)
        return made is not None and made.error_k <= error_k

    segments = temperature_steps.fewest(holds)
    return None if segments is None else table(segments)


def _temperatures_within_bytes(task: _Task, most: int) -> ReadingTable | None:
    table, segments = _by_segments(task), min(most // 2 - 3, temperature_steps.MOST_SEGMENTS)
    tried = [table(n) for n in range(segments, max(0, int(0.9 * segments) - 1), -1)]
    return min(
        (made for made in tried if made is not None), key=lambda made: made.error_k, default=None
    )


def _placed(task: _Task, error_k: float, at_most: int | None = None) -> ReadingTable | None:
    corridor = about(task.curve, error_k * task.scale)
    work = None if at_most is None else SEARCH_WORK
    placed = fewest_segments(corridor, at_most=at_most, work_limit=work)
    if placed is None:
        return None
    codes, bound = task.codes[placed.at], placed.lower_bound
    return _made(task, "placed knots", placed.value, codes=codes, lower_bound=bound)


def _bound_k(task: _Task, at_most: int, above_k: float) -> float:
    """An error [K] below which the end of the curve is out of reach of so many segments."""
    below_k = ROUNDING_COUNTS / task.scale
    while above_k > CLOSE_ENOUGH * below_k:
        middle_k = float(np.sqrt(below_k * above_k))
        if len(reaches(about(task.curve, middle_k * task.scale))[0]) - 1 > at_most:
            below_k = middle_k
        else:
            above_k = middle_k
    return below_k


def _placed_within_bytes(task: _Task, most: int) -> ReadingTable | None:
    """From the bound of ``straight`` upward, then bisection; each table found tightens it."""
    at_most = most // 4 - 1
    above_k = float(np.ptp(task.curve)) / task.scale + 1.0
    below_k = _bound_k(task, at_most, above_k) if at_most >= 1 else above_k
    best, factor = None, CLOSE_ENOUGH
    while best is None and at_most >= 1:
        tried_k = min(below_k * factor, above_k)
        best = _placed(task, tried_k, at_most)
        if best is None and tried_k == above_k:
            return None
        below_k, factor = (tried_k if best is None else below_k), factor**WIDER
    while best is not None and best.error_k > CLOSE_ENOUGH * below_k:
        middle_k = float(np.sqrt(below_k * best.error_k))
        found = _placed(task, middle_k, at_most)
        if found is None:
            below_k = middle_k
        else:
            best = found
    return best and _placed(task, best.error_k * (1.0 + SAME) + SAME)


_WITHIN_ERROR: dict[str, Callable[[_Task, float], ReadingTable | None]] = {
    "code steps": _steps_within_error,
    "temperature steps": _temperatures_within_error,
    "placed knots": _placed,
    "direct": _direct_within_error,
}
_WITHIN_BYTES: dict[str, Callable[[_Task, int], ReadingTable | None]] = {
    "code steps": _steps_within_bytes,
    "temperature steps": _temperatures_within_bytes,
    "placed knots": _placed_within_bytes,
    "direct": _direct_within_bytes,
}
