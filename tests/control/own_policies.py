"""Policies of one's own for the tests: some that can be compiled, some that cannot.

All their numbers are invented.
"""

import dataclasses
import math
import random
from typing import NamedTuple

RATE = 0.2


def eased(excess):
    """A share of 1 and less, for an excess of 0 and more."""
    return 1.0 / (1.0 + excess * math.exp(-abs(excess)))


class Stateless(NamedTuple):
    """Remembers nothing; a quarter of the light from a temperature on."""

    start_c: float

    def begin(self):
        """Nothing."""
        return None

    def limit(self, state, reading_c, period_s):
        """A whole number or a share, and nothing."""
        return (1 if reading_c < self.start_c else 0.25), state


class Widened(Stateless):
    """Begins with a whole number and goes on with others."""

    def begin(self):
        """A whole number."""
        return 0

    def limit(self, state, reading_c, period_s):
        """The mean so far decides."""
        state = state + RATE * (reading_c - state)
        return (1.0 if state < self.start_c else 0.5), state


class Kept(NamedTuple):
    """What ``Methods`` remembers."""

    mean_c: float
    hot: bool
    counted: tuple[int, float]


@dataclasses.dataclass
class Methods:
    """An object with a constant, a property and methods, and named tuples of tuples as state."""

    start_c: float
    turns: int = 3
    label: str = "no number"
    GAIN = 0.04

    def begin(self):
        """Cold."""
        return Kept(20.0, False, (0, 0.0))

    @property
    def end_c(self):
        """Where it stays low."""
        return self.start_c + 20.0

    def excess(self, mean_c):
        """How far above the start."""
        return self.GAIN * max(0.0, mean_c - self.start_c)

    def limit(self, state, reading_c, period_s):
        """Falls with the mean, and stays low where that was high."""
        mean_c = state.mean_c + (reading_c - state.mean_c) * period_s
        hot = state.hot or mean_c > self.end_c
        share = 0.1 if hot else eased(self.excess(mean_c))
        return share, Kept(mean_c, hot, (state.counted[0] + self.turns, mean_c / 3.0))


class Counts(Stateless):
    """Counts to and fro in whole numbers."""

    def begin(self):
        """Two counts."""
        return 0, 0

    def limit(self, state, reading_c, period_s):
        """Steps that depend on how long it has been hot."""
        up, down = state
        up, down = (up + 1, 0) if reading_c > self.start_c else (0, down + 1)
        return (0.2 if up > 50 else 1.0 - 0.1 * (up // 7)), (up, down % 11)


COMPILED = ("Stateless", "Widened", "Methods", "Counts")


class Halts(Stateless):
    """Has an answer up to a temperature."""

    def limit(self, state, reading_c, period_s):
        """Raises beyond."""
        if reading_c > self.start_c:
            raise ValueError("beyond what was thought of")
        return 1.0, state


class Grows(Widened):
    """Answers more than 1 once it has counted far enough."""

    def limit(self, state, reading_c, period_s):
        """A share that grows."""
        return 0.5 + 0.001 * state, state + 1


class Squares(Stateless):
    """A power, whose last bit is the library's."""

    def limit(self, state, reading_c, period_s):
        """Falls with the square."""
        return 1.0 / (1.0 + (reading_c / 50.0) ** 2), state


class Squared(Stateless):
    """A power of the reading, which soon is no share."""

    def limit(self, state, reading_c, period_s):
        """Rises with the square."""
        return (reading_c / self.start_c) ** 2, state


class Lists(Stateless):
    """Remembers a list."""

    def begin(self):
        """A list."""
        return [1.0]


class Prints(Stateless):
    """Talks."""

    def limit(self, state, reading_c, period_s):
        """All the light, and a word."""
        print("asked")
        return 1.0, state


class Dice(Stateless):
    """Is not a function of what it is given."""

    def limit(self, state, reading_c, period_s):
        """Any share."""
        return random.random(), state


class Wraps(Stateless):
    """Counts in whole numbers that 64 bits do not hold."""

    def begin(self):
        """Any number."""
        return 12345

    def limit(self, state, reading_c, period_s):
        """Scrambled bits."""
        state = state * 6364136223846793005 + 1442695040888963407
        return (state >> 33) % 1000 / 1000, state % 9223372036854775807


class Counting:
    """Counts in itself."""

    def __init__(self, start_c: float):
        self.start_c, self.calls = start_c, 0

    def begin(self):
        """Nothing."""
        return 0

    def limit(self, state, reading_c, period_s):
        """All the light, for a while."""
        self.calls += 1
        return (1.0 if self.calls < 9 else 0.5), state


INTERPRETED = {
    "Squares": r"found \*\* in limit, due x \* x, or math.pow",
    "Lists": r"found a state \[1\.0\], due numbers, tuples of them",
    "Prints": r"found print in limit, due numbers",
    "Dice": r"found a share of .* compiled and .* interpreted at step 1 of a trial",
    "Wraps": r"found",
    "Counting": r"found something else in limit, due numbers",
}
"""Why each of them is left to the interpreter."""
