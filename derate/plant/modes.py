"""The network seen along its modes, in which it moves exactly.

Massless nodes (index s) follow the others (index c) at once and are eliminated:

    T_s = G_ss^-1 (-G_sc T_c + A_s a + B_s q)

What remains, C dT_c/dt = -G' T_c + A' a + B' q, is decoupled by the symmetric eigenproblem of
C^-1/2 G' C^-1/2 = Q diag(rate) Q^T. With z = Q^T C^1/2 T_c

    dz/dt = -rate z + drive^T [q, a],    T = response^T [z, q, a]

Symbols: T temperatures [degC], a ambients [degC], q heat inputs [W], G conductances [W/K],
C capacities [J/K], rate [1/s]. Exact for any network of constant resistances and capacities.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.plant.network import Network

Array = NDArray[np.float64]

MEMO_SLOTS = 37
"""Step lengths kept: a prime of which 2 is a primitive root, so that halved steps do not collide."""
LENGTH, DECAY, CHARGE, MEAN_HOLD, MEAN_CHARGE, RISE = range(6)
"""Rows of a memo slot; see ``factors``."""
MOST_SWEEPS = 60
"""Jacobi sweeps before giving up; convergence is quadratic and takes about ten."""
NEARLY_DIAGONAL = 1e-16
"""An element this small against the diagonal [-] is rounding."""
SHORT = 0.1
"""Below this rate x step the mean under constant drive is summed as a series [-]."""


class Modes(NamedTuple):
    """n modes, N nodes, M ambients, U heat inputs; arrays as the kernel wants them.

    ``rate`` (n) [1/s]; ``drive`` (U + M, n): what each heat input and ambient pushes into each
    mode; ``response`` (n + U + M, N + M): what each mode, heat input and ambient adds to each
    node's temperature [degC] and then to the heat that flows into each ambient [W];
    ``project`` (n, N): node temperatures -> modes; ``reach`` (n): the most one unit of a mode moves
    any node; ``memo``: factors of step lengths met before; ``massless``: whether there are
    massless nodes.
    """

    rate: Array
    drive: Array
    response: Array
    project: Array
    reach: Array
    memo: Array
    massless: bool


def modes_of(network: Network) -> Modes:
    """The modes of a network with at least one node of capacity."""
    heavy = network.capacitance_j_per_k > 0
    light = ~heavy
    conductance, inject = network.conductance_w_per_k, network.inject
    causes = np.hstack((inject, network.ambient_w_per_k))
    joint = conductance[np.ix_(light, heavy)]
    follow = np.linalg.solve(
        conductance[np.ix_(light, light)], np.hstack((-joint, causes[light]))
    )
    follow_c, follow_causes = np.hsplit(follow, [int(heavy.sum())])
    root = np.sqrt(network.capacitance_j_per_k[heavy])
    reduced = conductance[np.ix_(heavy, heavy)] + joint.T @ follow_c
    rate, basis = eigen((reduced + reduced.T) / 2 / np.outer(root, root))
    read_c = basis / root[:, None]

    modes, nodes = len(rate), len(network.names)
    read = np.zeros((nodes, modes + causes.shape[1]))
    read[heavy, :modes] = read_c
    read[light] = np.hstack((follow_c @ read_c, follow_causes))
    flow = network.ambient_w_per_k.T @ read
    ambients = flow.shape[0]
    flow[:, modes + inject.shape[1] :] -= np.diag(network.ambient_w_per_k.sum(axis=0))
    project = np.zeros((modes, nodes))
    project[:, heavy] = basis.T * root
    widest = max(modes, inject.shape[1], 1)
    return Modes(
        rate=np.maximum(rate, 0.0),
        drive=np.ascontiguousarray((read_c.T @ (causes[heavy] - joint.T @ follow_causes)).T),
        response=np.ascontiguousarray(np.vstack((read, flow)).T.reshape(-1, nodes + ambients)),
        project=project,
        reach=np.abs(read[:, :modes]).max(axis=0),
        memo=np.full((MEMO_SLOTS, RISE + 1, widest), np.nan),
        massless=bool(light.any()),
    )


@compiled
def eigen(matrix):
    """Eigenvalues and eigenvectors (columns) of a symmetric positive matrix, by Jacobi rotations.

    Slower than the usual routine, but small eigenvalues keep their relative accuracy beside large
    ones: with junctions of milliseconds and a heat sink of an hour they differ by 1e7, and the
    usual routine would leave the steady state that much less exact.
    """
    a, size = matrix.copy(), matrix.shape[0]
    basis = np.eye(size)
    for _ in range(MOST_SWEEPS):
        turned = False
        for i in range(size - 1):
            for j in range(i + 1, size):
                if abs(a[i, j]) <= NEARLY_DIAGONAL * np.sqrt(abs(a[i, i] * a[j, j])):
                    continue
                turned = True
                _turn(a, basis, i, j)
        if not turned:
            break
    return np.diag(a).copy(), basis


@compiled
def _turn(a, basis, i, j):
    """Rotate rows and columns i and j of ``a`` so that a[i, j] vanishes."""
    theta = (a[j, j] - a[i, i]) / (2.0 * a[i, j])
    t = (1.0 if theta >= 0.0 else -1.0) / (abs(theta) + np.sqrt(theta * theta + 1.0))
    c = 1.0 / np.sqrt(t * t + 1.0)
    s = t * c
    a[i, i], a[j, j] = a[i, i] - t * a[i, j], a[j, j] + t * a[i, j]
    a[i, j] = a[j, i] = 0.0
    for k in range(a.shape[0]):
        if k not in (i, j):
            one, other = a[k, i], a[k, j]
            a[k, i] = a[i, k] = c * one - s * other
            a[k, j] = a[j, k] = s * one + c * other
        one, other = basis[k, i], basis[k, j]
        basis[k, i], basis[k, j] = c * one - s * other, s * one + c * other


@compiled
def factors(modes, h):
    """The memo slot with the factors for a step of ``h`` [s], computed if it is not there.

    With x = rate h, under constant drive f:

        z(h)      = DECAY z + CHARGE f                DECAY = e^-x,  CHARGE = h (1 - e^-x) / x
        mean of z = MEAN_HOLD z + MEAN_CHARGE f       MEAN_HOLD = CHARGE / h

    RISE is the rise of the heated node after one step of one watt into each heat input [K/W]; in a
    passive network no other node rises more.
    """
    slot = modes.memo[int(h * 1e9 % MEMO_SLOTS)]
    if slot[LENGTH, 0] == h:
        return slot
    slot[LENGTH, 0] = h
    count = modes.rate.shape[0]
    for i in range(count):
        x = modes.rate[i] * h
        fallen = -np.expm1(-x)
        slot[DECAY, i] = np.exp(-x)
        slot[CHARGE, i] = fallen / modes.rate[i] if x > 0.0 else h
        slot[MEAN_HOLD, i] = fallen / x if x > 0.0 else 1.0
        slot[MEAN_CHARGE, i] = h * _mean_charge(x, fallen)
    inputs = modes.drive.shape[0] - (modes.response.shape[1] - modes.project.shape[1])
    for u in range(inputs):
        rise = 0.0
        for j in range(modes.project.shape[1]):
            here = modes.response[count + u, j]
            for i in range(count):
                here += modes.response[i, j] * modes.drive[u, i] * slot[CHARGE, i]
            rise = max(rise, here)
        slot[RISE, u] = rise
    return slot


@compiled
def _mean_charge(x, fallen):
    """(x - (1 - e^-x)) / x^2, as a series where the difference would cancel."""
    if x > SHORT:
        return (x - fallen) / (x * x)
    term, total = 0.5, 0.5
    for k in range(3, 13):
        term *= -x / k
        total += term
    return total
