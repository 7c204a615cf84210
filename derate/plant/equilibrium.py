"""Where the ambients alone bring the nodes: the lamp off, all surfaces counted."""

import numpy as np
from numpy.typing import NDArray

from derate.plant.heat import PROBE_K, correction_w
from derate.plant.modes import Modes
from derate.plant.surface.exchange import Exchange

Array = NDArray[np.float64]

MOST_ROUNDS = 100
"""Newton's method on a sum of rising functions needs a handful."""
SETTLED_K = 1e-10
"""A round that moves no surface by more [K] is the last."""


def equilibrium_c(modes: Modes, exchange: Exchange, ambient_c: Array, airflow: float) -> Array:
    """Temperature of every node [degC] without heat, the ambients at ``ambient_c`` for ever.

    With T_0 and Z [K/W] what ambients and the surfaces' heat inputs q do to the surfaces' nodes,
    T = T_0 + Z q(T) is solved by Newton's method. Modes that never settle are left at zero.
    """
    surfaces, nodes = exchange.node, modes.project.shape[1]
    inputs = modes.drive.shape[0] - len(ambient_c)
    causes = np.zeros((modes.drive.shape[0], modes.response.shape[0]))
    settled = modes.rate > 0
    causes[:, : len(modes.rate)][:, settled] = modes.drive[:, settled] / modes.rate[settled]
    causes[:, len(modes.rate) :] = np.eye(len(causes))
    reach = causes @ modes.response[:, :nodes]
    rest_c = ambient_c @ reach[inputs:]
    if len(surfaces) == 0 or np.ptp(ambient_c) == 0.0:
        return np.asarray(rest_c)
    reach = reach[inputs - len(surfaces) : inputs]
    outside_c = ambient_c[exchange.ambient]

    def correction(at_c: Array) -> Array:
        return np.array(
            [
                correction_w(exchange, s, at_c[s], outside_c[s], airflow)
                for s in range(len(surfaces))
            ]
        )

    transfer, start_c = reach[:, surfaces].T, rest_c[surfaces]
    at_c = start_c.copy()
    for _ in range(MOST_ROUNDS):
        more, less = correction(at_c + PROBE_K), correction(at_c - PROBE_K)
        miss = at_c - start_c - transfer @ correction(at_c)
        slope = np.eye(len(at_c)) - transfer * (more - less) / (2.0 * PROBE_K)
        step = np.linalg.solve(slope, miss)
        at_c = at_c - step
        if np.abs(step).max() <= SETTLED_K:
            break
    return np.asarray(rest_c + correction(at_c) @ reach)
