"""Finding a limit cycle in a trace: the light going up and down while nothing outside changes."""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.loop.trace import Trace

SMALLEST_SWING = 0.02
"""Swings of the limit below 2 % of full light are not called hunting: a single step under 3 % of
the level is commonly taken as stepless."""
LEAST_TURNS = 7
"""Three full cycles."""
STILL_ALIVE = 0.5
"""A swing that has fallen below half of the largest is dying out, not hunting."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Cycle:
    """A sustained oscillation: rows ``first`` to ``last`` of the trace, period [s] and swings."""

    first: int
    last: int
    start_s: float
    end_s: float
    period_s: float
    swing_limit: float
    swing_k: float


def turning_points(signal: Array, threshold: float) -> list[int]:
    """Indices at which a signal turns by at least ``threshold``, alternately up and down."""
    turns: list[int] = []
    values = signal.tolist()
    at, extreme, direction = 0, values[0] if values else 0.0, 0
    for i, value in enumerate(values):
        before = extreme
        extreme, direction, turned = follow.py_func(value, extreme, direction, threshold)
        if turned:
            turns.append(at)
        if turned or extreme != before:
            at = i
    return turns


@compiled
def follow(
    value: float, extreme: float, direction: int, threshold: float
) -> tuple[float, int, bool]:
    """Follow a signal to its next value: the extreme it is leaving, its direction, whether the
    extreme before has turned out to be a turning point. Start with its first value and 0."""
    away = value - extreme
    if direction == 0:
        if abs(away) >= threshold:
            return value, 1 if away > 0 else -1, True
        return extreme, 0, False
    if direction * away > 0:
        return value, direction, False
    if -direction * away >= threshold:
        return value, -direction, True
    return extreme, direction, False


def find_cycle(trace: Trace) -> Cycle | None:
    """The longest limit cycle of a trace, or None."""
    held = np.minimum(trace["limit"], _columns(trace, "request_").max(axis=0))
    junction_c = _columns(trace, "junction_").max(axis=0)
    found = [
        cycle
        for first, last in steady_windows(trace)
        if (cycle := _sustained(trace["time_s"], held, junction_c, first, last))
    ]
    return max(found, key=lambda c: c.end_s - c.start_s, default=None)


def _sustained(
    time_s: Array, held: Array, junction_c: Array, first: int, last: int
) -> Cycle | None:
    """The cycle in rows first..last if it has three periods, keeps its size and is alive."""
    turns = [first + i for i in turning_points(held[first : last + 1], SMALLEST_SWING)][1:]
    if len(turns) < LEAST_TURNS:
        return None
    swings = np.abs(np.diff(held[turns]))
    period_s = float(np.median(np.diff(time_s[turns[::2]])))
    alive = swings[-2:].mean() >= STILL_ALIVE * swings.max()
    latest_s = float(np.max(np.diff(time_s[turns[::2]])[-2:]))
    to_the_end = time_s[last] - time_s[turns[-1]] <= 2 * latest_s
    if not (alive and to_the_end):
        return None
    swings_k = [np.ptp(junction_c[a : b + 1]) for a, b in itertools.pairwise(turns)]
    swing_k = float(np.median(swings_k))
    return Cycle(
        first=turns[0],
        last=turns[-1],
        start_s=float(time_s[turns[0]]),
        end_s=float(time_s[turns[-1]]),
        period_s=period_s,
        swing_limit=float(np.median(swings)),
        swing_k=swing_k,
    )


def steady_windows(trace: Trace) -> list[tuple[int, int]]:
    """Stretches of rows in which no input changes."""
    inputs = _columns(trace, "request_", "ambient_", "airflow")
    changed = np.any(np.diff(inputs, axis=1) != 0, axis=0)
    edges = np.concatenate(([0], np.flatnonzero(changed) + 1, [len(trace)]))
    return [(int(a), int(b) - 1) for a, b in itertools.pairwise(edges) if b - a > 8]


def _columns(trace: Trace, *prefixes: str) -> Array:
    return np.array([trace[name] for name in trace.names if name.startswith(prefixes)])
