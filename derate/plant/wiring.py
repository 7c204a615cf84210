"""Capacities and conductances laid one by one into the matrices of a network."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Stage = tuple[float, float]
"""A resistance [K/W] and the capacity [J/K] of the node before it."""


class Wiring:
    """Named nodes and ambients, and what has been laid between them.

    ``place``: index of every node by each of its names; ``capacitance`` (N, N) [J/K];
    ``conductance`` (N, N) [W/K], what leaves to ambients on its diagonal; ``to_ambient`` (N, M)
    [W/K].
    """

    def __init__(self, place: Mapping[str, int], ambients: Sequence[str]) -> None:
        nodes = len(set(place.values()))
        self.place = place
        self.ambient = {name: i for i, name in enumerate(ambients)}
        self.capacitance = np.zeros((nodes, nodes))
        self.conductance = np.zeros((nodes, nodes))
        self.to_ambient = np.zeros((nodes, len(ambients)))

    def store(self, name: str, capacitance_j_per_k: float) -> None:
        """Give a node capacity; an ambient has no end of it already."""
        if name not in self.ambient:
            i = self.place[name]
            self.capacitance[i, i] += capacitance_j_per_k

    def link(self, one: str, other: str, conductance_w_per_k: float) -> None:
        """Connect two nodes, or a node and an ambient."""
        if one in self.ambient:
            one, other = other, one
        i = self.place[one]
        self.conductance[i, i] += conductance_w_per_k
        if other in self.ambient:
            self.to_ambient[i, self.ambient[other]] += conductance_w_per_k
            return
        j = self.place[other]
        self.conductance[j, j] += conductance_w_per_k
        self.conductance[i, j] -= conductance_w_per_k
        self.conductance[j, i] -= conductance_w_per_k

    def chain(self, way: Sequence[str], stages: Iterable[Stage], flow: float = 1.0) -> None:
        """Lay the stages of a Cauer ladder along the nodes ``way``, one more than stages.

        ``flow``: factor [-] on its conductances.
        """
        for one, other, (resistance, capacitance) in zip(way[:-1], way[1:], stages, strict=True):
            self.store(one, capacitance)
            self.link(one, other, flow / resistance)

    def spread(self, names: Sequence[str], capacitance: Array, conductance: Array) -> None:
        """Lay full matrices of a body over its nodes; the rows of the conductances sum to zero."""
        block = np.ix_(*2 * ([self.place[name] for name in names],))
        self.capacitance[block] += capacitance
        self.conductance[block] += conductance

    def face(self, names: Sequence[str], partner: str, matrix: Array, weight: Array) -> None:
        """Connect a face of a body to a node or an ambient.

        ``matrix`` (n, n) [W/K]: heat that leaves the body's nodes by their own temperatures;
        ``weight`` (n) [W/K]: by that of the partner, the sums of its rows.
        """
        places = [self.place[name] for name in names]
        self.conductance[np.ix_(places, places)] += matrix
        if partner in self.ambient:
            self.to_ambient[places, self.ambient[partner]] += weight
            return
        j = self.place[partner]
        self.conductance[j, j] += weight.sum()
        self.conductance[places, j] -= weight
        self.conductance[j, places] -= weight
