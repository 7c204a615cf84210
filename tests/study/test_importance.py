"""Importance: the indices of functions whose indices are known in closed form."""

import numpy as np
import pytest

from derate.lamp.variation import Limits, Variation
from derate.study.importance import importance

UNITS = 4000
SURE = 0.04
"""Of an index beside noise of its size: four times the standard error of such a share, which is
below 0.01 with UNITS units."""
ROUNDING = 1e-9
"""Of a least-squares fit without a rest."""
HEAVY = 0.1
"""Of the deviation of a sample with long tails: four times its standard error, 0.025."""
KEY = (Limits("links.any.resistance", 1.0, 0.9, 1.1),)
FOUR = tuple(Variation(name, KEY, "normal") for name in ("one", "two", "three", "four"))


def scores(width, seed=1, units=UNITS):
    """Independent standard normal scores."""
    return np.random.default_rng(seed).standard_normal((units, width))


def by_name(found):
    """Effects by their names."""
    return {one.name: one for one in found.effects}


def test_closed_form():
    """A sum of a straight line, a square and a product has the indices that algebra gives it."""
    z = scores(4)
    value = 7.0 + 2.0 * z[:, 0] + (z[:, 1] ** 2 - 1.0) / np.sqrt(2.0) + 1.5 * z[:, 0] * z[:, 2]
    variance = 4.0 + 1.0 + 2.25
    found = importance(value, z, FOUR)
    first = {"one": 4.0, "two": 1.0, "three": 0.0, "four": 0.0}
    total = {"one": 6.25, "two": 1.0, "three": 2.25, "four": 0.0}
    for name, one in by_name(found).items():
        assert one.first == pytest.approx(first[name] / variance, abs=ROUNDING)
        assert one.total == pytest.approx(total[name] / variance, abs=ROUNDING)
        assert one.low - ROUNDING <= one.first <= one.high + ROUNDING
    assert [one.name for one in found.effects][:1] == ["one"]
    assert found.deviation == pytest.approx(np.sqrt(variance), rel=HEAVY)
    assert found.explained > 1.0 - ROUNDING


def test_noise_is_nobodys():
    """What does not come from the draws is left unexplained and raises no index."""
    z = scores(4)
    noise = np.random.default_rng(9).standard_normal(UNITS)
    found = importance(z[:, 1] + noise, z, FOUR)
    assert found.explained == pytest.approx(0.5, abs=SURE)
    for name, one in by_name(found).items():
        assert one.first == pytest.approx(0.5 if name == "two" else 0.0, abs=SURE)
        assert one.total == pytest.approx(0.5 if name == "two" else 0.0, abs=SURE)


def test_a_group_counts_as_one():
    """Correlated draws are one, whose index is their variance together, covariance included."""
    r = 0.6
    drawn = (
        *(Variation(name, KEY, "normal", group="reel", correlation=r) for name in ("a", "b")),
        Variation("alone", KEY, "normal"),
    )
    z = scores(4)
    a, b = (np.sqrt(r) * z[:, 3] + np.sqrt(1 - r) * z[:, i] for i in (0, 1))
    found = by_name(importance(a - 2.0 * b + z[:, 2], np.stack((a, b, z[:, 2]), axis=1), drawn))
    together = 1.0 + 4.0 - 4.0 * r
    assert set(found) == {"reel (a, b)", "alone"}
    assert found["reel (a, b)"].first == pytest.approx(together / (together + 1.0), abs=SURE)
    slopes = found["reel (a, b)"].slopes
    assert slopes["b"] / slopes["a"] == pytest.approx(-2.0, rel=SURE)


def test_full_correlation():
    """Draws in full correlation are one score and share one index."""
    drawn = [Variation(n, KEY, "normal", group="g", correlation=1.0) for n in ("a", "b")]
    z = scores(1)
    (only,) = importance(3.0 * z[:, 0], np.repeat(z, 2, axis=1), drawn).effects
    assert only.first == pytest.approx(1.0, abs=ROUNDING)


def test_signs():
    """Slope and partial rank correlation say which way it goes, the latter for any monotone one."""
    z = scores(4)
    found = by_name(importance(np.exp(z[:, 0]) - np.exp(z[:, 1]), z, FOUR))
    assert found["one"].slopes["one"] > 0.3
    assert found["two"].slopes["two"] < -0.3
    assert found["one"].ranks["one"] > 0.6
    assert found["two"].ranks["two"] < -0.6
    assert abs(found["three"].ranks["three"]) < 0.1


def test_few_units():
    """Few units tell no total index, and very few nothing."""
    z = scores(4)
    few = importance(z[:30, 0], z[:30], FOUR)
    assert few.effects[0].name == "one"
    assert few.effects[0].total is None
    assert importance(z[:20, 0], z[:20], FOUR) is None


def test_nothing_to_tell():
    """What does not vary, is no number or varies by no draw depends on nothing."""
    z = scores(4)
    assert importance(np.full(UNITS, 80.0), z, FOUR) is None
    assert importance(np.full(UNITS, np.nan), z, FOUR) is None
    assert importance(z[:, 0], z[:, :0], ()) is None
