"""The bound on the crests of the ripple."""

from hypothesis import given
from hypothesis import strategies as st

from derate.plant.ripple import crest
from derate.plant.swell import ABOVE, largest_crest


@given(st.floats(1e-9, 1e3), st.floats(1e-6, 1.0 - 1e-6))
def test_no_duty_crests_higher(x, duty):
    """Whatever the duty, the crest of a mode stays below the bound."""
    assert crest(x, duty) <= ABOVE * largest_crest(x)


@given(st.floats(1e-9, 1e3))
def test_some_duty_crests_as_high(x):
    """The bound is no higher than the highest of many duties by more than they are coarse."""
    highest = max(crest(x, k / 4096) for k in range(1, 4096))
    assert largest_crest(x) <= 1.01 * highest
