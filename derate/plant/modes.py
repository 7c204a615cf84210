"""The network seen along its modes, in which it moves exactly.

Once the massless nodes are eliminated, C dT/dt = -G T + A a + B q is decoupled by the symmetric
eigenproblem of L^-1 G L^-T = Q diag(rate) Q^T, with C = L L^T. With z = Q^T L^T T

    dz/dt = -rate z + drive^T [q, a],    T = response^T [z, q, a]

Symbols: T temperatures [degC], a ambients [degC], q heat inputs [W], G conductances [W/K],
C capacities [J/K], rate [1/s]. Exact for any network of constant resistances and capacities.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.eigen import eigen
from derate.plant.massless import without_massless
from derate.plant.network import Network
from derate.plant.triangular import backward, forward

Array = NDArray[np.float64]


class Modes(NamedTuple):
    """n modes, N nodes, M ambients, U heat inputs; arrays as the kernel wants them.

    ``rate`` (n) [1/s]; ``drive`` (U + M, n): what each heat input and ambient pushes into each
    mode; ``response`` (n + U + M, N + M): what each mode, heat input and ambient adds to each
    node's temperature [degC] and then to the heat that flows into each ambient [W]; ``felt`` (U,
    n + U + M): what they add to the temperature of the place that each heat input enters, the nodes
    weighed by their shares of it; ``project`` (n, N): node temperatures -> modes; ``reach``
    (n): the most one unit of a mode moves any node; ``massless``: whether there are massless nodes.
    """

    rate: Array
    drive: Array
    response: Array
    felt: Array
    project: Array
    reach: Array
    massless: bool


def modes_of(network: Network) -> Modes:
    """The modes of a network with at least one node of capacity.

    Where every node has a capacity of its own L is diagonal, and the small rates keep all their
    digits beside the large ones.
    """
    heavy = network.heavy
    reduced = without_massless(network)
    lower = np.linalg.cholesky(network.capacitance_j_per_k[np.ix_(heavy, heavy)])
    half = forward(lower, reduced.conductance_w_per_k)
    matrix = forward(lower, np.ascontiguousarray(half.T))
    rate, basis = eigen(0.5 * (matrix + matrix.T))
    read_c = backward(lower, basis)
    read = np.hstack((reduced.follow @ read_c, reduced.follow_causes))

    modes, nodes, inputs = len(rate), len(network.names), network.inject.shape[1]
    flow = network.ambient_w_per_k.T @ read
    ambients = flow.shape[0]
    flow[:, modes + inputs :] -= np.diag(network.ambient_w_per_k.sum(axis=0))
    project = np.zeros((modes, nodes))
    project[:, heavy] = basis.T @ lower.T
    return Modes(
        rate=np.maximum(rate, 0.0),
        drive=np.ascontiguousarray(reduced.causes.T @ read_c),
        response=np.ascontiguousarray(np.vstack((read, flow)).T.reshape(-1, nodes + ambients)),
        felt=np.ascontiguousarray(network.inject.T @ read),
        project=project,
        reach=np.abs(read[:, :modes]).max(axis=0),
        massless=not heavy.all(),
    )
