"""A bound on the light of every admissible history, from any guess of what a kelvin is worth.

Let y(t) [lm/K] be any weights of the nodes that matter, one value a slot. Temperatures follow from
heat inputs q and ambients a by the network's impulse response k, whatever made the heat:

    T(t) = free(t) + integral over s < t of k(t - s) q(s)

Multiplied by y and integrated over the profile, with the price pi(s) = integral over t > s of
y(t) k(t - s) of a watt put in at s,

    light = light + integral of y T - y free - pi q
         <= - integral of y free + integral of sup [light(d, T) + y T - pi q(d, T)]

The supremum is taken at every instant on its own, over the duties that the requests allow and over
the temperatures where nodes can be (``case``), limits included. At the ends of slots y may have
peaks L [lm s/K], none negative, of nodes that have a limit and capacity: each adds L times the
limit. That is weak duality: nothing is approximated in time, in how fast a duty changes, or in how
light and heat depend on the junction, and no property of y is needed. The better the guess the
closer the bound; the duals of the linear programme are a good one.

Where branches share a channel's current, any split of it is allowed, which is more than physics
does: with a price nu of current, sum of sup over I_b of (light - nu I_b), plus nu I. The integral
is a trapezoidal sum, suprema are taken over tables; ``ALLOWED`` covers both.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.study.case import Case
from derate.study.supremum import Prices, of_channel, of_others
from derate.study.worth import Worth

Array = NDArray[np.float64]

ALLOWED: Final = 5e-4
"""Of the bound: what a trapezoidal sum over bends and tables of finite steps may miss [-]."""


def bound_lm_s(case: Case, worth: Worth) -> float:
    """No admissible history gives more light [lm s] than this, whatever ``worth`` is.

    Its duties serve to choose prices of current by.
    """
    prices = _prices(case, worth.mean / case.horizon.length_s[:, None], worth.edge)
    emission, groups = case.plant.machine.emission, case.groups
    sensors = len(case.sensor_w)
    best = np.maximum(-prices.watt[:, groups : groups + sensors], 0.0) @ case.sensor_w
    loss = emission.supply_per_load - 1.0
    lost = np.zeros(len(best))
    if emission.loss_input >= 0:
        lost = loss * prices.watt[:, emission.loss_input]
    switched = np.zeros(len(best))
    if emission.bypass_input >= 0:
        switched = prices.watt[:, emission.bypass_input]
    best += np.maximum(-switched - lost, 0.0) * case.switches_w
    for c in range(len(case.channels)):
        best += of_channel(case, c, prices, lost, worth.duty)
    best += of_others(case, prices)
    ends = float((worth.edge * np.where(worth.edge > 0.0, case.limit_c, 0.0)).sum())
    return float(best @ case.horizon.weight_s) + ends - prices.free_lm_s


def _prices(case: Case, y: Array, edge: Array) -> Prices:
    """Prices of heat at every instant, backwards from the end of the profile."""
    plant, horizon, node = case.plant, case.horizon, case.node
    first = np.searchsorted(horizon.slot, np.arange(len(y) + 1))
    inputs = len(plant.modes[0].felt)
    watt = np.zeros((len(horizon.at_s), inputs))
    worth, free, after = np.zeros(len(plant.modes[0].rate)), 0.0, None
    for k in range(len(y) - 1, -1, -1):
        modes = plant.modes[horizon.configuration[k]]
        count = len(modes.rate)
        if after is not None and after is not modes:
            turned = after.project @ modes.response[:count, : after.project.shape[1]].T
            worth = turned.T @ worth
        worth = worth + modes.response[:count, node] @ edge[k]
        here = slice(first[k], first[k + 1])
        left_s = horizon.edge_s[k + 1] - horizon.at_s[here]
        source = modes.response[:count, node] @ y[k]
        at = _earlier(modes.rate, worth, source, left_s)
        price = at @ modes.drive.T + modes.response[count:, node] @ y[k]
        watt[here] = price[:, :inputs]
        ambient_c = horizon.ambients_c(horizon.slot[here], horizon.at_s[here])
        free += float(horizon.weight_s[here] @ (price[:, inputs:] * ambient_c).sum(axis=1))
        worth = _earlier(modes.rate, worth, source, horizon.length_s[k : k + 1])[0]
        after = modes
    start = plant.modes[horizon.configuration[0]].project @ case.dark.node_c[0]
    return Prices(watt, y, free + float(worth @ start))


def _earlier(rate: Array, worth: Array, source: Array, left_s: Array) -> Array:
    """Worth of every mode, ``left_s`` [s] before the end of a slot of constant source."""
    x = np.outer(left_s, rate)
    fallen = -np.expm1(-x)
    charge = np.where(x < 1e-9, left_s[:, None], fallen / np.where(rate > 0.0, rate, 1.0))
    return np.asarray(np.exp(-x) * worth + charge * source)
