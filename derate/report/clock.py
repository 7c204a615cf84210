"""The time axis: seconds, minutes or hours, and where its ticks stand."""

from typing import NamedTuple


class Clock(NamedTuple):
    """The unit times are shown in: its sign, its length [s], and the distance of ticks in it."""

    unit: str
    seconds: float
    tick: float


def clock_for(span_s: float) -> Clock:
    """The clock that suits a run of ``span_s`` [s]: four to eight ticks at round times."""
    if span_s <= 180:
        return Clock("s", 1.0, _tick(span_s, (1, 2, 5)))
    if span_s <= 3 * 3600:
        return Clock("min", 60.0, _tick(span_s / 60, (1, 2, 5)))
    return Clock("h", 3600.0, _tick(span_s / 3600, (1, 2, 3, 6)))


def _tick(span: float, steps: tuple[int, ...]) -> float:
    """Smallest round distance that leaves at most eight ticks."""
    decade = 10.0**-6
    while True:
        for step in steps:
            if span / (step * decade) <= 8:
                return step * decade
        decade *= 10.0
