"""The crests of the ripple of eight units side by side, as sums of powers of duty and rate.

``derate.plant.ripple`` gives the crest c(x, d) of a mode under PWM; here it is a series in x, so
that for each pair of input and junction the sum over modes is taken once, for every duty.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import bernoulli, comb, factorial

from derate.compiled import inlined, kernel
from derate.lanes import bits, every, put, side, where
from derate.plant.emission import END, FIRST
from derate.plant.modes import Modes
from derate.plant.state import HELD, Interval, Machine

Array = NDArray[np.float64]
Sides = Any

TERMS = 14
"""Most terms of the series of a crest."""
NEXT_TERM, PER_TURN = 1e-12, 0.5 / np.pi
"""The series ends where its next term is less than this share [-]; each is at most x / 2 pi of the
one before."""


def _of_duty() -> Array:
    """q_n(d) = sum over j of OF_DUTY[n, j] (d (1 - d))^(j + 1), times (1 - 2 d) for odd n.

    From (e^(d t) - 1) / (e^t - 1) = sum over m >= 1 of (B_m(d) - B_m) t^(m - 1) / m!, with the
    Bernoulli polynomials B_m(d) = sum over k of binom(m, k) B_(m - k) d^k, at t = -x: the crest
    c(x, d) = sum over n of q_n(d) x^n, q_n = (-1)^(n + 1) (B_(n + 2)(d) - B_(n + 2)) / (n + 2)!.
    """
    numbers, most = bernoulli(TERMS + 2), TERMS // 2 + 1
    table = np.zeros((TERMS, most))
    for n in range(TERMS):
        m, count = n + 2, (n + 2) // 2
        duty = 0.5 * (1.0 - np.cos(np.pi * (np.arange(count) + 0.5) / (2 * count)))
        values = sum(comb(m, k) * numbers[m - k] * duty**k for k in range(1, m + 1))
        values *= (-1.0) ** (n + 1) / factorial(m)
        both = duty * (1.0 - duty)
        if n % 2 == 1:
            values /= 1.0 - 2.0 * duty
        table[n, :count] = np.linalg.solve(np.vander(both, count, increasing=True), values / both)
    return table


OF_DUTY = _of_duty()


@inlined
def fill_crests(machine: Sides, state: Sides, interval: Interval, moments: Array, terms: int,
           count: int) -> None:  # fmt: skip
    """Fill ``state.ripple_k`` with the crests, as sums of ``moments`` times powers of the duty."""
    emission, groups = machine.emission, state.ripple_k.shape[0]
    for g in range(groups):
        put(state.ripple_k, 0.0, g)
    for c in range(emission.channel_of.shape[0]):
        duty = side(interval.duties, c)
        dimmed = (duty > 0.0) & (duty < 1.0)
        if bits(dimmed) == 0:
            continue
        per_duty = where(dimmed, 1.0 / max(duty, 1e-300), 0.0)
        both = duty * (1.0 - duty)
        for n in range(terms):
            power = every(0.0)
            for j in range(OF_DUTY.shape[1] - 1, -1, -1):
                power = (power + OF_DUTY[n, j]) * both
            if n % 2 == 1:
                power = power * (1.0 - 2.0 * duty)
            power = power * per_duty
            for b in range(emission.channel_of[c, FIRST, 0], emission.channel_of[c, END, 0]):
                for u in range(emission.branch_of[b, FIRST, 0], emission.branch_of[b, END, 0]):
                    pushed = power * side(state.cause, HELD, count + u)
                    for g in range(groups):
                        crest = side(state.ripple_k, g) + pushed * side(moments, n, u, g)
                        put(state.ripple_k, crest, g)


@kernel
def moments_of(machine: Machine, modes: Modes, moments: Array) -> int:
    """Fill ``moments`` (TERMS, G, G) of one unit; returns how many count, 0 if all do not suffice.

    The crest of junction g under a watt of input u while on is the sum over modes of
    drive_ui response_ig P c(x_i, d), and with c as a series in x that over its terms of

        q_n(d) moments_nug,      moments_nug = P sum over i of drive_ui response_ig x_i^n
    """
    fastest = 0.0
    for i in range(modes.rate.shape[0]):
        fastest = max(fastest, modes.rate[i] * machine.period_s)
    terms, left = 0, 1.0
    while left > NEXT_TERM and terms < TERMS:
        terms, left = terms + 1, left * fastest * PER_TURN
    for n in range(terms):
        for u in range(moments.shape[1]):
            for g in range(moments.shape[2]):
                total = 0.0
                for i in range(modes.rate.shape[0]):
                    power = machine.period_s
                    for _ in range(n):
                        power *= modes.rate[i] * machine.period_s
                    response = modes.response[i, machine.junction + g]
                    total += power * modes.drive[u, i] * response
                moments[n, u, g] = total
    return terms if left <= NEXT_TERM else 0
