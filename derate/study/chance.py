"""What N units drawn at random can tell of all units: an exact interval for a share."""

from dataclasses import dataclass

from scipy import stats

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Chance:
    """``over`` of ``drawn`` units pass a limit; what share [-] of all units may do.

    ``low``, ``high``: two-sided interval; ``at_most``: one-sided upper bound. Both hold with the
    confidence ``confidence`` at least, whatever the true share is.
    """

    over: int
    drawn: int
    low: float
    high: float
    at_most: float
    confidence: float = CONFIDENCE

    @property
    def share(self) -> float:
        """The share among the drawn units [-]."""
        return self.over / self.drawn


def chance(over: int, drawn: int) -> Chance:
    """The interval of Clopper and Pearson for ``over`` of ``drawn`` units, drawn >= 1.

    With none of N over, the one-sided bound is 1 - 0.05^(1/N), which common practice rounds to 3/N.

    Source: Clopper and Pearson 1934, The use of confidence or fiducial limits illustrated in the
    case of the binomial, Biometrika 26, 404-413.
    """
    both = stats.binomtest(over, drawn).proportion_ci(CONFIDENCE, method="exact")
    # the interval that belongs to the alternative "less" has an upper end only
    below = stats.binomtest(over, drawn, alternative="less").proportion_ci(CONFIDENCE, "exact")
    return Chance(over, drawn, float(both.low), float(both.high), float(below.high))
