"""Instants of a run: whole nanoseconds, so that tasks of equal period meet exactly."""

NANOSECONDS = 1_000_000_000


def nanoseconds(time_s: float) -> int:
    """A time [s] in whole nanoseconds."""
    return round(time_s * NANOSECONDS)
