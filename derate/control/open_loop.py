"""Policy "none": no derating; faults and cut-off still act."""

from typing import NamedTuple


class Settings(NamedTuple):
    """No settings; a tuple needs one field to compile."""

    unused: float = 0.0


def begin(settings: Settings) -> tuple[float]:
    """The state before the first step."""
    return (0.0,)


def limit(
    settings: Settings, state: tuple[float], reading_c: float, period_s: float
) -> tuple[float, tuple[float]]:
    """1.0 at every ``reading_c`` [degC], and the state."""
    return 1.0, state
