"""Limit cycles: found where they are, not found where light only settles."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.loop.cycle import find_cycle, turning_points
from derate.loop.trace import Trace

PERIOD_TOLERANCE = 0.02
"""The trace is sampled at 1/60 of the period; a median of several periods does better."""


def trace_of_limit(limit, request=None):
    """A one-channel trace at 1 s ticks whose limit is given and whose inputs stay put."""
    n = len(limit)
    columns = {
        "time_s": np.arange(n, dtype=float),
        "ambient_c": np.full(n, 25.0),
        "airflow": np.ones(n),
        "request_spot": np.ones(n) if request is None else request,
        "junction_spot_c": 60.0 + 40.0 * np.asarray(limit, float),
        "limit": np.asarray(limit, float),
        "status": np.zeros(n),
    }
    return Trace(columns)


def test_a_square_wave_hunts():
    """Period, swing of the limit and swing of the junction come out as put in."""
    time_s = np.arange(600)
    cycle = find_cycle(trace_of_limit(np.where(time_s % 60 < 30, 1.0, 0.4)))
    assert cycle is not None
    assert cycle.period_s == pytest.approx(60, rel=PERIOD_TOLERANCE)
    assert cycle.swing_limit == pytest.approx(0.6)
    assert cycle.swing_k == pytest.approx(24.0)


def test_a_decaying_ringing_does_not_hunt():
    """An overshoot that dies out is not a limit cycle."""
    time_s = np.arange(900)
    limit = 0.6 + 0.3 * np.exp(-time_s / 120) * np.cos(2 * np.pi * time_s / 60)
    assert find_cycle(trace_of_limit(limit)) is None


def test_a_request_that_goes_up_and_down_does_not_hunt():
    """The user's own dimming is not the controller's doing."""
    time_s = np.arange(600)
    request = np.where(time_s % 60 < 30, 1.0, 0.4)
    assert find_cycle(trace_of_limit(np.ones(600), request)) is None


def test_a_limit_above_the_request_does_not_hunt():
    """A limit that swings above what is asked for changes no light."""
    time_s = np.arange(600)
    limit = np.where(time_s % 60 < 30, 1.0, 0.6)
    assert find_cycle(trace_of_limit(limit, np.full(600, 0.5))) is None


def test_a_swing_too_small_to_see_does_not_hunt():
    """A swing of 1 % of full light is below what counts."""
    time_s = np.arange(600)
    assert find_cycle(trace_of_limit(np.where(time_s % 60 < 30, 0.70, 0.69))) is None


@given(st.lists(st.floats(0, 1), min_size=2, max_size=60), st.floats(0.01, 0.5))
def test_turning_points_alternate_by_at_least_the_threshold(values, threshold):
    """Between neighbouring turns the signal moves by the threshold or more, up and down in turn."""
    signal = np.array(values)
    turns = turning_points(signal, threshold)
    moves = np.diff(signal[turns])
    assert np.all(np.abs(moves) >= threshold * (1 - 1e-12))
    assert np.all(moves[1:] * moves[:-1] < 0)
