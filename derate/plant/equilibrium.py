"""Where the ambients alone bring the nodes: the lamp off, all surfaces counted."""

import numpy as np
from numpy.typing import NDArray

from derate.plant.heat import PROBE_K, corrections_w
from derate.plant.modes import Modes
from derate.plant.surface.exchange import Exchange

Array = NDArray[np.float64]

MOST_ROUNDS = 100
"""Newton's method on a sum of rising functions needs a handful."""
SETTLED_K = 1e-10
"""A round that moves no surface by more [K] is the last."""


def equilibrium_c(modes: Modes, exchange: Exchange, ambient_c: Array, airflow: float) -> Array:
    """Temperature of every node [degC] without heat, the ambients at ``ambient_c`` for ever.

    With T_0 and Z [K/W] what ambients and the surfaces' heat inputs q do to the temperatures that
    these follow, T = T_0 + Z q(T) is solved by Newton's method. Modes that never settle are left at
    zero.
    """
    nodes, inputs = modes.project.shape[1], len(modes.felt)
    shedding = slice(inputs - exchange.inputs, inputs)
    causes = np.zeros((modes.drive.shape[0], modes.response.shape[0]))
    settled = modes.rate > 0
    causes[:, : len(modes.rate)][:, settled] = modes.drive[:, settled] / modes.rate[settled]
    causes[:, len(modes.rate) :] = np.eye(len(causes))
    reach = causes @ modes.response[:, :nodes]
    rest_c = ambient_c @ reach[inputs:]
    if exchange.inputs == 0 or np.ptp(ambient_c) == 0.0:
        return np.asarray(rest_c)
    felt = causes @ modes.felt[shedding].T
    transfer, start_c = felt[shedding].T, ambient_c @ felt[inputs:]

    def correction(at_c: Array) -> Array:
        heat_w = np.zeros(len(at_c))
        for s in range(len(exchange.node)):
            corrections_w(exchange, s, at_c, ambient_c, airflow, heat_w)
        return heat_w

    at_c = start_c.copy()
    for _ in range(MOST_ROUNDS):
        heat_w = correction(at_c)
        probes = PROBE_K * np.eye(len(at_c))
        slopes = [(correction(at_c + d) - correction(at_c - d)) / (2.0 * PROBE_K) for d in probes]
        miss = at_c - start_c - transfer @ heat_w
        step = np.linalg.solve(np.eye(len(at_c)) - transfer @ np.transpose(slopes), miss)
        at_c = at_c - step
        if np.abs(step).max() <= SETTLED_K:
            break
    return np.asarray(rest_c + correction(at_c) @ reach[shedding])
