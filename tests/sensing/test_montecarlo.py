"""Monte Carlo of the budget: inside the corners, near the root-sum-square, repeatable."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.sensing.budget import budget
from derate.sensing.circuit import celsius_at_lsb, from_lamp
from derate.sensing.contribution import Situation
from derate.sensing.montecarlo import confirm
from tests.sensing.invented import ARRANGEMENTS
from tests.sensing.toleranced import DISTURBED, exact, toleranced

CELSIUS = [0.0, 25.0, 60.0, 85.0]
BUSY = Situation(current_a=2.0, ramp_k_per_s=0.5)
LEAST_FACTOR, MOST_FACTOR = 0.95, 1.75
"""Half the 99.7 % band over the root-sum-square: 1 for a single even draw, 1.71 for very many."""


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_the_budget_is_confirmed(arrangement):
    """Of 20 000 units none leaves the corners; 99.7 % of them agree with the root-sum-square."""
    for reference in ("ratiometric", 3.6):
        made = toleranced(arrangement, disturbance=DISTURBED, reference=reference)
        found = budget(made, CELSIUS, situation=BUSY)
        tried = confirm(found)
        assert tried.inside
        assert np.all(found.corner_low_k <= tried.least_k)
        assert np.all(tried.least_k <= tried.low_k)
        assert np.all(tried.high_k <= tried.most_k)
        assert np.all(tried.most_k <= found.corner_high_k)
        assert np.all((tried.rss_factor > LEAST_FACTOR) & (tried.rss_factor < MOST_FACTOR))
        assert not np.any(tried.fault_share)


def test_one_cause_alone_reaches_its_limit():
    """With one tolerance that dwarfs the rest, the 99.7 % band reaches 0.997 of the corners."""
    found = budget(exact(tolerance={"r25": 0.2}, adc={"bits": 16}), CELSIUS)
    tried = confirm(found)
    code_and_table_k = 0.2
    share = 0.997
    np.testing.assert_allclose(tried.low_k, share * found.corner_low_k, atol=code_and_table_k)
    np.testing.assert_allclose(tried.high_k, share * found.corner_high_k, atol=code_and_table_k)


def test_the_check_bites():
    """Corners narrowed by a third are found to be left."""
    found = budget(exact(tolerance={"r25": 0.05}), CELSIUS)
    narrow = found.__class__(**{**vars(found), "corner_high_k": found.corner_high_k * 2 / 3})
    assert confirm(found).inside
    assert not confirm(narrow).inside


def test_units_repeat_by_their_seed():
    """The same seed gives the same units, another seed others."""
    found = budget(toleranced(), CELSIUS)
    first, again, other = (confirm(found, units=500, seed=seed) for seed in (3, 3, 4))
    np.testing.assert_array_equal(first.most_k, again.most_k)
    assert np.any(first.most_k != other.most_k)


def test_uneven_codes_spread_the_units():
    """Near an edge between codes, DNL alone gives units two codes, and without it they agree."""
    circuit = from_lamp(exact())
    near_c = celsius_at_lsb(circuit, 401.2)
    even = confirm(budget(exact(), near_c), units=200)
    uneven = confirm(budget(exact(adc={"dnl_lsb": 0.5}), near_c), units=200)
    assert even.least_k[0] == even.most_k[0]
    assert uneven.least_k[0] < uneven.most_k[0]
    assert uneven.inside


def test_units_lost_to_the_fault_window_are_counted():
    """Readings that fall into a fault window are left out and their share is told."""
    made = exact(reference=3.3, tolerance={"reference": 0.05})
    share = confirm(budget(made, [-40.0, 25.0]), units=2000).fault_share
    assert 0.1 < share[0] < 0.9
    assert share[1] == 0.0


SHORT_SAMPLE = {"capacitance_f": 8e-12, "switch_ohm": 1e3, "time_s": 0.4e-6, "previous": 1.0}
"""Half a code to a few are left of the channel before; invented."""
RATIOS = st.floats(0.0, 0.1)


@settings(max_examples=25)
@given(
    arrangement=st.sampled_from(ARRANGEMENTS),
    tolerance=st.fixed_dictionaries(
        {key: RATIOS for key in ("resistor", "r25", "b_value", "supply", "reference")}
    ),
    adc=st.fixed_dictionaries(
        {
            "bits": st.integers(11, 14),
            "offset_lsb": st.floats(-2.0, 2.0),
            "gain_error": st.floats(-0.002, 0.002),
            "inl_lsb": st.floats(-3.0, 3.0),
            "noise_lsb": st.floats(0.0, 0.5),
            "dnl_lsb": st.floats(-1.0, 1.0),
            "inl_shape": st.sampled_from(["bow", "s"]),
            "sampling": st.sampled_from([None, SHORT_SAMPLE]),
        }
    ),
    reference=st.sampled_from(["ratiometric", 3.6]),
    resistor_ohm=st.floats(4.7e3, 22e3),
    series_ohm=st.sampled_from([0.0, 100.0]),
    parallel_ohm=st.sampled_from([None, 220e3]),
    current_a=st.floats(0.0, 2.0),
)
def test_no_unit_leaves_the_corners(arrangement, tolerance, adc, current_a, **divider):
    """Whatever the tolerances, every drawn unit reads inside the corners of its budget."""
    made = toleranced(
        arrangement, tolerance=tolerance, adc=adc, disturbance=DISTURBED, **divider
    ).model_copy(
        update={"thermistor": exact().thermistor.model_copy(update={"range_c": (0.0, 110.0)})}
    )
    found = budget(made, CELSIUS, situation=Situation(current_a=current_a))
    assert confirm(found, units=300).inside
