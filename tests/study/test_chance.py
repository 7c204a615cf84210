"""The interval for a share: it holds as often as it says, whatever the true share is."""

import numpy as np
import pytest
from scipy import stats

from derate.study.chance import CONFIDENCE, chance

ROUNDING = 1e-9
"""Ends of the interval come from a root search of scipy."""
SHARES = (0.0005, 0.003, 0.02, 0.1, 0.5, 0.97)


@pytest.mark.parametrize("drawn", [1, 30, 300])
@pytest.mark.parametrize("share", SHARES)
def test_coverage(share, drawn):
    """Summed over every count that may come, both statements hold with 95 % at least."""
    found = [chance(over, drawn) for over in range(drawn + 1)]
    chances = stats.binom.pmf(np.arange(drawn + 1), drawn, share)
    inside = np.array([one.low <= share <= one.high for one in found])
    below = np.array([share <= one.at_most for one in found])
    assert chances @ inside >= CONFIDENCE - ROUNDING
    assert chances @ below >= CONFIDENCE - ROUNDING


@pytest.mark.parametrize("drawn", [1, 10, 1000, 100_000])
def test_none_over(drawn):
    """Of none in N over the bound is 1 - 0.05^(1/N), a little less than the rule of three."""
    found = chance(0, drawn)
    assert found.at_most == pytest.approx(1 - 0.05 ** (1 / drawn), rel=ROUNDING)
    assert found.at_most < 3 / drawn
    assert (found.low, found.share) == (0.0, 0.0)


def test_all_over():
    """Where all units are over, so may be all there are."""
    found = chance(20, 20)
    assert (found.high, found.at_most, found.share) == (1.0, 1.0, 1.0)
    assert 0.8 < found.low < 1.0
