"""Triangular equations without threads, against scipy's routine."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import solve_triangular

from derate.plant.triangular import backward, forward

ROUNDING = 1e-11
"""Relative to the largest element: up to a dozen equations of elements near one."""


@given(size=st.integers(1, 12), seed=st.integers(0, 999))
def test_both_ways(size, seed):
    """L X = B and L^T X = B are solved as scipy solves them."""
    random = np.random.default_rng(seed)
    lower = np.tril(random.uniform(-0.5, 0.5, (size, size))) + np.eye(size)
    right = random.uniform(-1.0, 1.0, (size, 3))
    for got, desired in (
        (forward(lower, right), solve_triangular(lower, right, lower=True)),
        (backward(lower, right), solve_triangular(lower.T, right)),
    ):
        np.testing.assert_allclose(got, desired, atol=ROUNDING * np.abs(desired).max())


def test_a_diagonal_divides():
    """With a diagonal matrix every row is divided by its own element and nothing else."""
    lower, right = np.diag([1e-6, 1.0, 3e7]), np.arange(9.0).reshape(3, 3)
    for solve in (forward, backward):
        np.testing.assert_array_equal(solve(lower, right), right / np.diag(lower)[:, None])
