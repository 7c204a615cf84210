"""The board of cells integrated in time and solved in frequency, independently of any reduction."""

import math

import numpy as np
import scipy.sparse as sparse
from scipy.integrate import solve_ivp
from scipy.sparse.linalg import spsolve

from derate.plant.board.answers import factors

STIFF = {"method": "BDF", "rtol": 1e-6}
LEAST_K = 1e-7
"""Absolute tolerance of the integration, of rises of some kelvin."""


def steps_of(full, exchange_w_per_m2_k, heated, times_s):
    """Rise of each kept node over time [K/W] by heat switched on in one of them."""
    conductance = sparse.csr_array(full.conductance_w_per_k(exchange_w_per_m2_k))
    rate = sparse.csc_matrix(sparse.diags_array(-1 / full.capacitance_j_per_k) @ conductance)
    heat = full.heat[heated] / full.capacitance_j_per_k
    solved = solve_ivp(
        lambda _, rise: rate @ rise + heat,
        (0.0, times_s[-1]),
        np.zeros(len(heat)),
        t_eval=times_s,
        jac=rate,
        first_step=1e-7,
        atol=LEAST_K,
        **STIFF,
    )
    assert solved.success
    return {name: share @ solved.y for name, share in full.heat.items()}


def impedance_of(full, exchange_w_per_m2_k, heated, frequency_per_s):
    """Complex rise of each kept node [K/W] by heat that swings at an angular frequency."""
    swing = sparse.diags_array(1j * frequency_per_s * full.capacitance_j_per_k)
    matrix = full.conductance_w_per_k(exchange_w_per_m2_k) + swing
    rise = spsolve(sparse.csc_matrix(matrix), full.heat[heated].astype(complex))
    return {name: share @ rise for name, share in full.heat.items()}


DOUBLINGS, EACH = 18, 16
"""A march doubles its step so often, after so many steps of one length."""
INNER = 1.0 - math.sqrt(0.5)
"""Where the first of two stages lies within a step, so that fast answers die out."""


def march_of(full, exchange_w_per_m2_k, heat, until_s):
    """Times and rises of kept quantities (times, n, n) after heat (M, n) is switched on.

    Two implicit stages a step (second order); the steps begin a hundred thousand times shorter than
    they end.
    """
    conductance = full.conductance_w_per_k(exchange_w_per_m2_k)
    rise, now_s, times_s, found = np.zeros_like(heat), 0.0, [], []
    step_s = until_s / (EACH * (2**DOUBLINGS - 1))
    later = (1.0 - INNER) / INNER
    for _ in range(DOUBLINGS):
        held = sparse.diags_array(full.capacitance_j_per_k / (INNER * step_s))
        solve = factors(sparse.csc_array(conductance + held)).solve
        for _ in range(EACH):
            first = solve(heat - conductance @ rise)
            second = solve(heat - conductance @ (rise + later * first))
            rise = rise + later * first + second
            now_s += step_s
            times_s.append(now_s)
            found.append(heat.T @ rise)
        step_s *= 2
    return np.array(times_s), np.array(found)
