"""A policy of one's own for the tests."""

from typing import NamedTuple


class Halved(NamedTuple):
    """Half the light from a temperature on, for good."""

    start_c: float

    def begin(self):
        """Nothing has happened yet."""
        return False

    def limit(self, state, reading_c, period_s):
        """Half once it was warm."""
        warm = state or reading_c >= self.start_c
        return (0.5 if warm else 1.0), warm
