"""Thresholds in codes: direction, rounding, and the band in which real units trip."""

import math

import pytest

from derate.errors import InputError
from derate.sensing.circuit import from_lamp
from derate.sensing.contribution import Situation
from derate.sensing.threshold import threshold
from tests.sensing.invented import ARRANGEMENTS, chain
from tests.sensing.toleranced import exact, toleranced

TOO_SMALL_K = 1e-3
"""A step [K] to either side of a trip, far below one code."""


def trips(made, found, celsius, **keys):
    """Whether the firmware's comparison says too hot at ``celsius``."""
    code = made.sense(celsius, **keys)
    return code <= found.code if found.direction == "<=" else code >= found.code


@pytest.mark.parametrize(("arrangement", "direction"), [("pull-up", "<="), ("pull-down", ">=")])
def test_the_comparison_goes_the_right_way(arrangement, direction):
    """Hot is at or below the code with a pull-up, at or above with a pull-down."""
    found = threshold(exact(arrangement), 85.0)
    made = chain(arrangement)
    assert found.direction == direction
    assert not trips(made, found, 60.0)
    assert trips(made, found, 100.0)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("celsius", [25.0, 60.0, 85.0, 110.0])
def test_an_ideal_chain_trips_where_it_is_said(arrangement, celsius):
    """The ideal trip is the nearest edge of a code to the temperature asked for."""
    found = threshold(exact(arrangement), celsius)
    made = chain(arrangement)
    assert not trips(made, found, found.ideal_c - TOO_SMALL_K)
    assert trips(made, found, found.ideal_c + TOO_SMALL_K)
    half_code_k = 0.5 * {25.0: 0.023, 60.0: 0.046, 85.0: 0.092, 110.0: 0.2}[celsius]
    assert abs(found.ideal_c - celsius) <= half_code_k


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_the_band_is_that_of_the_extreme_parts(arrangement):
    """5 % of R25 alone: the band ends where chains of 9.5 and 10.5 kohm trip."""
    found = threshold(exact(arrangement, tolerance={"r25": 0.05}), 85.0)
    for r25_ohm, edge_c in ((9.5e3, found.low_c), (10.5e3, found.high_c)):
        part = {"b_value_k": 3950.0, "resistance_25_ohm": r25_ohm}
        made = chain(arrangement, thermistor=part)
        assert not trips(made, found, edge_c - 10 * TOO_SMALL_K)
        assert trips(made, found, edge_c + TOO_SMALL_K)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_led_current_widens_one_side(arrangement):
    """Ground shift makes a pull-up trip late and a pull-down early, never the other way."""
    made = exact(arrangement, disturbance={"ground_v_per_a": 0.010})
    quiet, loud = threshold(made, 85.0), threshold(made, 85.0, situation=Situation(current_a=2.0))
    late = arrangement == "pull-up"
    same, moved = ("low_c", "high_c") if late else ("high_c", "low_c")
    assert getattr(loud, same) == pytest.approx(getattr(quiet, same), abs=TOO_SMALL_K)
    assert (getattr(loud, moved) - getattr(quiet, moved)) * (1 if late else -1) > 0.5


def test_a_unit_that_never_trips_is_told():
    """With half of R25 missing or added, some unit trips outside of any reach: infinite ends."""
    made = exact(reference=3.31, tolerance={"reference": 0.49}, adc={"bits": 8})
    assert from_lamp(made).transfer.full_scale == 256
    found = threshold(made, -20.0)
    assert found.low_c == -math.inf


def test_no_threshold_outside_the_range():
    """Outside the working range there is no threshold, and the sentence says so."""
    with pytest.raises(InputError, match="found a threshold of 130 degC"):
        threshold(toleranced(), 130.0)
