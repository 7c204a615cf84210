"""The quantiles of parts against scipy's distributions, closed moments and densities."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import ndtr, ndtri

from derate.lamp.variation import Limits, Variation
from derate.loop.quantile import values_of

ROUNDING = 1e-12
"""Relative to the width of the limits."""
SUMMED = 1e-6
"""Relative error of a mean over POINTS evenly spaced probabilities, unbounded tails included."""
UNBOUNDED = 1e-4
"""The same of variances of laws whose tails go on: what lies beyond the last of the points."""
QUADRATURE = 1e-9
"""What scipy's quadrature leaves of a probability."""
POINTS = 1_000_000
SCORES = np.concatenate([np.linspace(-6.5, 6.5, 131), [-1e-9, 0.0, 1e-9]])
SIGMAS = (0.5, 2.0, 3.0, 6.0)


def law(distribution="normal", sigmas=3.0, truncated=True):
    """A draw of one key."""
    return Variation("any", (), distribution, sigmas, truncated)


def limits(low, nominal, high):
    """The limits of one key."""
    return Limits("any", nominal, low, high)


def even(variation, one):
    """Values at POINTS evenly spaced probabilities."""
    return values_of(variation, one, ndtri((np.arange(POINTS) + 0.5) / POINTS))


@pytest.mark.parametrize("sigmas", SIGMAS)
@pytest.mark.parametrize("truncated", [True, False])
def test_normal_is_that_of_scipy(sigmas, truncated):
    """Symmetric limits give scipy's normal law, cut at the limits or not."""
    known = stats.truncnorm(-sigmas, sigmas, 5.0, 2.0 / sigmas)
    known = known if truncated else stats.norm(5.0, 2.0 / sigmas)
    found = values_of(law("normal", sigmas, truncated), limits(3.0, 5.0, 7.0), SCORES)
    lower = 5.0 - known.ppf(ndtr(-np.abs(SCORES)))  # whose digits are better than the upper ones
    assert found - 5.0 == pytest.approx(np.sign(SCORES) * lower, abs=4 * ROUNDING)


def test_uniform_and_triangular_are_those_of_scipy():
    """Even between the limits, and a triangle with its tip at the nominal value."""
    for low, nominal, high in ((-1.0, 0.5, 2.0), (0.0, 0.0, 3.0), (1.0, 4.0, 4.0), (2.0, 2.1, 9.0)):
        width = high - low
        found = values_of(law("uniform"), limits(low, nominal, high), SCORES)
        known = stats.uniform(low, width).ppf(ndtr(SCORES))
        assert found == pytest.approx(known, abs=width * ROUNDING)
        found = values_of(law("triangular"), limits(low, nominal, high), SCORES)
        tip = stats.triang((nominal - low) / width, low, width)
        known = np.where(SCORES < 0, tip.ppf(ndtr(SCORES)), tip.isf(ndtr(-SCORES)))
        # scipy takes the root of 1 - p, which has lost its digits far out
        assert found == pytest.approx(known, abs=1e-8 * width)


@pytest.mark.parametrize("sigmas", SIGMAS)
@pytest.mark.parametrize("truncated", [True, False])
def test_lognormal_is_that_of_scipy(sigmas, truncated):
    """Limits that are one factor down and up give scipy's lognormal law about the median."""
    factor = 1.3
    known = stats.lognorm(math.log(factor) / sigmas, scale=2.0)
    inside = ndtr(-sigmas) + (1 - 2 * ndtr(-sigmas)) * ndtr(SCORES)
    probability = inside if truncated else ndtr(SCORES)
    shape = law("lognormal", sigmas, truncated)
    found = values_of(shape, limits(2.0 / factor, 2.0, 2.0 * factor), SCORES)
    middle = np.abs(SCORES) < 5  # beyond, 1 - p has lost the digits that the tail needs
    assert found[middle] == pytest.approx(known.ppf(probability)[middle], rel=1e-9)


@pytest.mark.parametrize("sigmas", SIGMAS)
def test_a_cut_normal_has_the_closed_moments(sigmas):
    """Mean and variance of a truncated normal law, s^2 (1 - 2 k phi(k) / (2 Phi(k) - 1))."""
    found = even(law("normal", sigmas), limits(3.0, 5.0, 7.0))
    cut = 2 * sigmas * stats.norm.pdf(sigmas) / (2 * ndtr(sigmas) - 1)
    assert found.mean() == pytest.approx(5.0, rel=SUMMED)
    assert found.var() == pytest.approx((2.0 / sigmas) ** 2 * (1 - cut), rel=20 * SUMMED)


def test_unequal_halves_have_the_closed_moments():
    """Two half normals: mean m + sqrt(2/pi) (s2 - s1), variance by the known formula."""
    found = even(law("normal", 3.0, False), limits(2.0, 5.0, 6.5))
    below, above = 1.0, 0.5
    mean = 5.0 + math.sqrt(2 / math.pi) * (above - below)
    variance = (1 - 2 / math.pi) * (above - below) ** 2 + below * above
    assert found.mean() == pytest.approx(mean, rel=SUMMED)
    assert found.var() == pytest.approx(variance, rel=UNBOUNDED)


def test_evenly_spread_parts_have_the_closed_moments():
    """Variances (b - a)^2 / 12, and (a^2 + b^2 + c^2 - ab - bc - ca) / 18 of a triangle."""
    a, c, b = 1.0, 2.0, 7.0
    uniform, triangle = (even(law(name), limits(a, c, b)) for name in ("uniform", "triangular"))
    assert uniform.mean() == pytest.approx((a + b) / 2, rel=SUMMED)
    assert uniform.var() == pytest.approx((b - a) ** 2 / 12, rel=SUMMED)
    assert triangle.mean() == pytest.approx((a + b + c) / 3, rel=SUMMED)
    known = (a * a + b * b + c * c - a * b - b * c - c * a) / 18
    assert triangle.var() == pytest.approx(known, rel=SUMMED)


@pytest.mark.parametrize("sigmas", SIGMAS)
def test_a_cut_lognormal_has_the_closed_mean(sigmas):
    """exp(s^2 / 2) (Phi(k - s) - Phi(-k - s)) / (2 Phi(k) - 1) times the median."""
    s = math.log(1.5) / sigmas
    found = even(law("lognormal", sigmas), limits(2.0 / 1.5, 2.0, 3.0))
    share = (ndtr(sigmas - s) - ndtr(-sigmas - s)) / (2 * ndtr(sigmas) - 1)
    assert found.mean() == pytest.approx(2.0 * math.exp(s * s / 2) * share, rel=SUMMED)


@pytest.mark.parametrize("ends", [(2.0, 5.0, 5.5), (4.9, 5.0, 8.0), (3.0, 5.0, 7.0)])
@pytest.mark.parametrize("sigmas", [0.5, 3.0])
def test_the_density_has_no_step(ends, sigmas):
    """The probability of a value is the area below one curve, made of two halves of equal top."""
    low, nominal, high = ends

    def density(x):
        scale = (nominal - low if x < nominal else high - nominal) / sigmas
        return math.exp(-0.5 * ((x - nominal) / scale) ** 2)

    whole = integrate.quad(density, low, high, points=[nominal], epsabs=QUADRATURE)[0]
    for score in (-3.0, -1.2, -0.3, 0.4, 2.5):
        x = float(values_of(law("normal", sigmas), limits(*ends), score))
        area = integrate.quad(density, low, x, points=[min(nominal, x)], epsabs=QUADRATURE)[0]
        assert area / whole == pytest.approx(ndtr(score), abs=4 * QUADRATURE)


@pytest.mark.parametrize("distribution", ["normal", "lognormal", "triangular", "uniform"])
def test_one_limit_leaves_one_side(distribution):
    """Without a limit below, no value lies below the nominal one, and the other way round."""
    above = values_of(law(distribution), limits(5.0, 5.0, 7.0), SCORES)
    below = values_of(law(distribution), limits(3.0, 5.0, 5.0), SCORES)
    assert np.all((above >= 5.0) & (above <= 7.0))
    assert np.all((below >= 3.0) & (below <= 5.0))
    assert above[0] - 5.0 < 1e-6
    assert 5.0 - below[130] < 1e-6
    if distribution == "normal":
        cut = ndtr(3.0) - 0.5
        known = 5.0 + stats.halfnorm.ppf(2 * cut * ndtr(SCORES)) * 2.0 / 3.0
        assert above[:66] == pytest.approx(known[:66], abs=1e-9)


@given(
    st.sampled_from(["normal", "lognormal", "triangular", "uniform"]),
    st.floats(0.1, 10.0),
    st.floats(0.0, 5.0),
    st.floats(0.001, 5.0),
    st.booleans(),
)
def test_values_rise_with_the_score_inside_their_limits(distribution, sigmas, down, up, swap):
    """Any law, any limits: a higher score is no lower value, and limits hold."""
    down, up = (up, down) if swap else (down, up)
    one = limits(10.0 - down, 10.0, 10.0 + up)
    found = values_of(law(distribution, sigmas), one, np.sort(SCORES))
    assert np.all(np.diff(found) >= -ROUNDING * 10.0)
    assert np.all((found >= one.low) & (found <= one.high))
    assert np.all(np.isfinite(found))


def test_tails_go_on_where_nothing_is_cut():
    """At a score of 6 an unbounded normal part lies twice as far off as its limit of 3 sigma."""
    found = values_of(law("normal", 3.0, False), limits(4.0, 5.0, 6.0), [-6.0, 6.0])
    assert found == pytest.approx([3.0, 7.0], rel=ROUNDING)
