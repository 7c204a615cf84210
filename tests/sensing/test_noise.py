"""Random numbers by counter: known answers, determinism, distribution, independence."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from derate.sensing.noise import gaussian, uniform, words

COUNT = 20000
LEAST_P = 1e-3
"""Seeds are fixed, so a test of level 0.1 % passes for ever or never."""
FOUR_SIGMA = 4.0 / np.sqrt(COUNT)

numbers = st.integers(0, 2**40)

KNOWN = [
    # Random123, kat_vectors, threefry2x32 with 20 rounds: counter, key -> words
    (0x00000000, 0x00000000, 0x00000000, 0x00000000, 0x6B200159, 0x99BA4EFE),
    (0xFFFFFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0x1CB996FC, 0xBB002BE7),
    (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344, 0xC4923A9C, 0x483DF7A0),
]


@pytest.mark.parametrize(("tick", "use", "seed", "unit", "first", "second"), KNOWN)
def test_known_answers(tick, use, seed, unit, first, second):
    """The generator gives the words printed with Random123 (kat_vectors), compiled or not."""
    assert words(seed, unit, tick, use) == (first, second)
    assert words.py_func(seed, unit, tick, use) == (first, second)


@given(seed=numbers, unit=numbers, tick=numbers, use=numbers)
def test_compiled_code_and_interpreter_agree(seed, unit, tick, use):
    """The same four numbers give the same result, compiled or under the interpreter."""
    here = (seed, unit, tick, use)
    assert words(*here) == words.py_func(*here)
    assert uniform(*here) == uniform.py_func(*here)
    assert gaussian(*here) == gaussian.py_func(*here)
    assert 0.0 < uniform(*here) < 1.0


def series(draw, axis, start=0):
    """``COUNT`` numbers along one of the four arguments, the others held."""
    here = [11, 12, 13, 14]
    found = np.empty(COUNT)
    for i in range(COUNT):
        here[axis] = start + i
        found[i] = draw(*here)
    return found


@pytest.mark.parametrize("axis", range(4), ids=("seed", "unit", "tick", "use"))
def test_normal_along_every_argument(axis):
    """Mean 0, variance 1 and a normal shape, counted along any of the four arguments."""
    found = series(gaussian, axis)
    assert abs(np.mean(found)) < FOUR_SIGMA
    assert abs(np.var(found) - 1.0) < np.sqrt(2.0) * FOUR_SIGMA
    assert stats.kstest(found, "norm").pvalue > LEAST_P
    assert stats.kstest(series(uniform, axis), "uniform").pvalue > LEAST_P


@pytest.mark.parametrize("axis", range(4), ids=("seed", "unit", "tick", "use"))
def test_neighbours_are_independent(axis):
    """A number tells nothing about its neighbour: no correlation of values or of sizes."""
    found = series(gaussian, axis)
    for lag in (1, 2, 3, 8):
        assert abs(np.mean(found[lag:] * found[:-lag])) < FOUR_SIGMA
        sizes = np.abs(found) - np.mean(np.abs(found))
        assert abs(np.mean(sizes[lag:] * sizes[:-lag])) < FOUR_SIGMA


def test_arguments_do_not_stand_in_for_each_other():
    """Units, ticks, uses and seeds with the same sum or in another order give other numbers."""
    found = {words(*here) for here in np.ndindex(6, 6, 6, 6)}
    assert len(found) == 6**4


def test_pairs_fill_the_square():
    """Neighbouring ticks fill the unit square evenly (chi-squared over 10 x 10 fields)."""
    found = series(uniform, 2)
    fields = np.histogram2d(found[0::2], found[1::2], bins=10, range=[[0, 1], [0, 1]])[0]
    assert stats.chisquare(fields.ravel()).pvalue > LEAST_P
