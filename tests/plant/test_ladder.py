"""Foster and Cauer forms of a ladder: against exact arithmetic, round trips, limits, refusals."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from derate.errors import InputError
from derate.plant.ladder import cauer_to_foster, foster_to_cauer

MOST_STAGES = 12
DECADES = 10
ROUNDING = 1e-14
"""Relative: a few roundings for each stage. An element's own error is larger where two time
constants lie close, in proportion to one over the part by which they differ."""
ROUND_TRIP = 1e-13
"""Relative: the same for two conversions, one of which finds roots."""


@st.composite
def apart(draw, most=MOST_STAGES):
    """Foster pairs with time constants up to ten decades apart, neighbours 5 % or more."""
    stages = draw(st.integers(1, most))
    steps = [draw(st.floats(0.02, DECADES / most)) for _ in range(stages)]
    tau = 10.0 ** (np.cumsum(steps) - DECADES / 2)
    r = 10.0 ** np.array([draw(st.floats(-2.0, 2.0)) for _ in range(stages)])
    return r, tau / r


@st.composite
def chains(draw):
    """Cauer ladders whose elements lie up to five decades apart, in any order."""
    stages = draw(st.integers(1, MOST_STAGES))
    exponents = st.lists(st.floats(-2.5, 2.5), min_size=stages, max_size=stages)
    return 10.0 ** np.array(draw(exponents)), 10.0 ** np.array(draw(exponents))


def least_gap(r, c):
    """The smallest part by which neighbouring time constants differ."""
    tau = np.sort(np.asarray(r) * np.asarray(c))
    return min(1.0, *np.diff(tau) / tau[1:], 1.0)


def exact_cauer(r, c):
    """The continued fraction of the impedance in rational numbers; coefficients rise with s."""
    rates = [1 / (Fraction(a) * Fraction(b)) for a, b in zip(r, c, strict=True)]

    def product(roots):
        row = [Fraction(1)]
        for root in roots:
            row = [
                root * low + high for low, high in zip([*row, 0], [Fraction(0), *row], strict=True)
            ]
        return row

    below, above = product(rates), [Fraction(0)] * len(rates)
    for i, capacity in enumerate(c):
        others = product(rates[:i] + rates[i + 1 :])
        above = [a + b / Fraction(capacity) for a, b in zip(above, others, strict=True)]
    resistances, capacities = [], []
    while above:
        capacities.append(below[-1] / above[-1])
        shifted = [Fraction(0), *above]
        below = [b - capacities[-1] * a for b, a in zip(below, shifted, strict=True)][:-1]
        resistances.append(above[-1] / below[-1])
        above = [a - resistances[-1] * b for a, b in zip(above, below, strict=True)][:-1]
    return np.array(resistances, float), np.array(capacities, float)


@given(apart())
def test_cauer_elements_are_exact_to_rounding(pairs):
    """Up to 12 stages over 10 decades give the ladder of exact rational arithmetic."""
    expected_r, expected_c = exact_cauer(*pairs)
    got = foster_to_cauer(*pairs)
    tolerance = ROUNDING / least_gap(*pairs)
    np.testing.assert_allclose(got.resistance_k_per_w, expected_r, rtol=tolerance)
    np.testing.assert_allclose(got.capacitance_j_per_k, expected_c, rtol=tolerance)


@given(apart())
def test_foster_to_cauer_and_back(pairs):
    """A Foster set comes back, fastest pair first, from its Cauer ladder."""
    back = cauer_to_foster(*foster_to_cauer(*pairs))
    order = np.argsort(pairs[0] * pairs[1])
    tolerance = ROUND_TRIP / least_gap(*pairs)
    np.testing.assert_allclose(back.resistance_k_per_w, pairs[0][order], rtol=tolerance)
    np.testing.assert_allclose(back.capacitance_j_per_k, pairs[1][order], rtol=tolerance)


@given(chains())
def test_cauer_to_foster_and_back(chain):
    """A Cauer ladder comes back, even where some of its pairs are 1e-60 of the whole."""
    foster = cauer_to_foster(*chain)
    gap = least_gap(*foster)
    assume(gap > 1e-6)  # closer pairs hold too few digits to tell their ladder
    back = foster_to_cauer(*foster)
    np.testing.assert_allclose(back.resistance_k_per_w, chain[0], rtol=ROUND_TRIP / gap)
    np.testing.assert_allclose(back.capacitance_j_per_k, chain[1], rtol=ROUND_TRIP / gap)


@given(chains())
def test_both_forms_have_one_impedance(chain):
    """At any frequency the continued fraction equals the sum of the pairs."""
    r, c = chain
    foster = cauer_to_foster(r, c)
    for s in 1j * np.geomspace(1e-6, 1e6, 7):
        admittance = 0.0
        for resistance, capacity in zip(r[::-1], c[::-1], strict=True):
            beyond = 1.0 / admittance if admittance else 0.0
            admittance = s * capacity + 1.0 / (resistance + beyond)
        pairs = foster.resistance_k_per_w / (1.0 + s * np.multiply(*foster))
        assert pairs.sum() == pytest.approx(1.0 / admittance, rel=ROUND_TRIP)


@given(apart(), st.randoms())
def test_sums_and_order(pairs, random):
    """Both forms have one total resistance and one capacity at first; order does not count."""
    places = list(range(len(pairs[0])))
    random.shuffle(places)
    got, same = foster_to_cauer(*pairs), foster_to_cauer(pairs[0][places], pairs[1][places])
    np.testing.assert_array_equal(got, same)
    tolerance = ROUNDING / least_gap(*pairs)
    assert got.resistance_k_per_w.sum() == pytest.approx(pairs[0].sum(), rel=tolerance)
    assert 1 / got.capacitance_j_per_k[0] == pytest.approx((1 / pairs[1]).sum(), rel=tolerance)


def test_a_ladder_that_fastens_towards_its_end():
    """Time constants that fall tenfold a stage from the first node on leave shares of 1e-60."""
    r, c = np.ones(MOST_STAGES), 10.0 ** np.arange(5.0, 5.0 - MOST_STAGES, -1.0)
    foster = cauer_to_foster(r, c)
    assert foster.resistance_k_per_w.min() / foster.resistance_k_per_w.sum() < 1e-60
    np.testing.assert_allclose(foster_to_cauer(*foster), (r, c), rtol=ROUND_TRIP)


def test_equal_time_constants_are_one_pair():
    """Two pairs of one time constant make one stage with the sum of the resistances."""
    got = foster_to_cauer([1.0, 3.0], [0.5, 0.5 / 3.0])
    np.testing.assert_allclose(got, [[4.0], [0.125]], rtol=ROUNDING)


def test_nearly_equal_time_constants_stay_a_ladder():
    """Pairs whose time constants differ in the last digit still give positive elements."""
    got = foster_to_cauer([1.0, 1.0], [1.0, 1.0 + 2e-16])
    assert len(got.resistance_k_per_w) == 2
    assert got.resistance_k_per_w.sum() == pytest.approx(2.0, rel=ROUNDING)


def test_stages_too_loosely_coupled_to_tell_apart():
    """Behind a resistance of 1e100 K/W the far stage's heat never reaches the first node."""
    foster = cauer_to_foster([1e100, 1.0], [1.0, 1.0])
    np.testing.assert_allclose(foster, [[1e100], [1.0]], rtol=ROUNDING)


@pytest.mark.parametrize("convert", [foster_to_cauer, cauer_to_foster])
@pytest.mark.parametrize(
    ("r", "c", "due"),
    [
        ([1.0, -0.2], [1.0, 2.0], r"resistance\[entry 2\]: found -0.2 K/W, due a positive number"),
        ([1.0, 0.0], [1.0, 2.0], r"resistance\[entry 2\]: found 0 K/W, due a positive number"),
        ([1.0, 2.0], [1.0, np.nan], r"capacitance\[entry 2\]: found nan J/K"),
        ([1.0, 2.0], [np.inf, 1.0], r"capacitance\[entry 1\]: found inf J/K"),
        ([1.0, 2.0], [1.0], "found 2 resistances and 1 capacitances"),
        ([], [], "found 0 resistances and 0 capacitances"),
    ],
)
def test_refusals(convert, r, c, due):
    """What no ladder of positive elements has is refused in one sentence that says where."""
    with pytest.raises(InputError, match=due):
        convert(r, c)


def test_elements_beyond_all_numbers_are_refused():
    """Where an element would leave the range of numbers the sentence says so."""
    with pytest.raises(InputError, match="computed"):
        foster_to_cauer([1e-200, 1e200], [1e-200, 1e200])
