"""Thinned traces: what may be left out and what may not."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from derate.report.envelope import envelope

PIECES = 7
TRACES = arrays.arrays(
    float,
    st.integers(1, 400),
    elements=st.one_of(st.floats(-1e6, 1e6), st.just(float("nan"))),
)


@given(TRACES)
def test_extremes_stay(value):
    """Highest and lowest value of a trace survive thinning, whatever the trace."""
    kept = value[envelope(value, PIECES)]
    if np.isfinite(value).any():
        assert np.nanmax(kept) == np.nanmax(value)
        assert np.nanmin(kept) == np.nanmin(value)
    assert np.isnan(kept).any() == np.isnan(value).any()


@given(TRACES)
def test_rows_rise_and_ends_stay(value):
    """Rows come in order, each once, from the first of the trace to the last."""
    rows = envelope(value, PIECES)
    assert (np.diff(rows) > 0).all()
    assert rows[0] == 0
    assert rows[-1] == len(value) - 1


def test_every_jump_stays_upright():
    """Both rows of each jump of a square wave are kept, so that edges do not lean."""
    value = (np.arange(5000) // 400 % 2).astype(float)
    rows = set(envelope(value, 50).tolist())
    for edge in np.flatnonzero(np.diff(value)):
        assert {int(edge), int(edge) + 1} <= rows


def test_long_traces_become_short(long_run):
    """36001 rows of a course that is nowhere constant draw with a few thousand points at most."""
    value = long_run.trace["thermistor_board_c"]
    assert len(value) == 36001
    assert len(envelope(value)) <= 2100


def test_what_repeats_is_left_out():
    """A constant is drawn from two points."""
    assert envelope(np.full(5000, 3.0)).tolist() == [0, 4999]
