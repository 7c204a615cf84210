"""Nodes without capacity: they follow their neighbours at once and drop out of the equations.

Taking out node s turns the star around it into a mesh: with g the conductances from s to its
neighbours and ambients and G their sum,

    T_s = (sum of g_i T_i + q_s) / G,    g_ij grows by g_i g_j / G,    q_i grows by q_s g_i / G.

Only positive numbers are added, so a node tied to another by next to no resistance costs no
accuracy; the matrix inverse would subtract large numbers there. (A board's nodes may have negative
conductances between them, but they all have capacity and stay.)
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.network import Network

Array = NDArray[np.float64]


class Reduced(NamedTuple):
    """What is left for the n nodes of capacity, and how all N nodes follow from them.

    ``conductance_w_per_k`` (n x n); ``causes`` (n x U + M): how heat inputs and ambients act on
    them; ``follow`` (N x n) and ``follow_causes`` (N x U + M): temperatures of all nodes.
    """

    conductance_w_per_k: Array
    causes: Array
    follow: Array
    follow_causes: Array


def without_massless(network: Network) -> Reduced:
    """The network reduced to its nodes of capacity."""
    nodes, inputs = network.inject.shape
    links = -network.conductance_w_per_k
    np.fill_diagonal(links, 0.0)
    causes = np.hstack((network.inject, network.ambient_w_per_k))
    follow, follow_causes = np.eye(nodes), np.zeros_like(causes)
    heavy = network.heavy
    massless = np.flatnonzero(~heavy)
    for s in massless:
        total = links[s].sum() + causes[s, inputs:].sum()
        follow[s], follow_causes[s] = links[s] / total, causes[s] / total
        causes += np.outer(links[:, s], follow_causes[s])
        links += np.outer(links[:, s], follow[s])
        links[s], links[:, s], causes[s] = 0.0, 0.0, 0.0
        np.fill_diagonal(links, 0.0)
    for s in massless[::-1]:
        follow_causes[s] += follow[s] @ follow_causes
        follow[s] = follow[s] @ follow
    diagonal = links.sum(axis=1) + causes[:, inputs:].sum(axis=1)
    conductance = np.diag(diagonal) - links
    return Reduced(
        conductance[np.ix_(heavy, heavy)], causes[heavy], follow[:, heavy], follow_causes
    )
