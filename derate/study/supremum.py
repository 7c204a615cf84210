"""The best that any instant allows, on its own: the supremum in the bound of ``certificate``.

    channel:  sup over d, T of  light(d, T) - pi heat(d, T) - lost power(d, T) + y T
    others:   sup over T of     y T - pi correction(T)

d: duties that the requests allow; T: where a node can be. In PWM the first is linear in d, so that
an end is best. Suprema over T, over the duty in current dimming and over the current of branches
that share are looked for in tables.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.heat import correction_w
from derate.plant.kernel import direct
from derate.study.case import Case
from derate.study.glow import Branch, Channel, glow_of

Array = NDArray[np.float64]

PLACES: Final = 17
"""Temperatures at which a supremum is looked for, between the ends of where a node can be."""
STEPS: Final = 48
"""Of a duty in current dimming, and of the current of a branch that shares."""
SAME: Final = 1e-12
"""Duties this close are the same step of the driver."""


class Prices(NamedTuple):
    """At L instants: of a watt in each heat input (L, U) [lm s/J]; ``free``: y on the free course.

    ``weight`` (S, Y): the weights y of every slot [lm/K].
    """

    watt: Array
    weight: Array
    free_lm_s: float


def of_channel(case: Case, c: int, prices: Prices, lost: Array, duty: Array) -> Array:
    """Supremum of a channel's part at every instant [lm]."""
    channel, horizon = case.channels[c], case.horizon
    pwm = case.plant.machine.emission.pwm
    levels = _levels(horizon.ceiling[:, c])
    equal_a = channel.full_a / channel.parallel
    if channel.shares:
        currents = [_shared(equal_a, channel.full_a / one.count) for one in channel.branches]
    else:
        currents = [np.array([equal_a]) if pwm else levels * equal_a]
    places = [
        _places(case, c, one, at_a) for one, at_a in zip(channel.branches, currents, strict=True)
    ]
    found = np.empty(len(lost))
    starts = np.searchsorted(horizon.slot, np.arange(len(duty) + 1))
    for k in range(len(duty)):
        part = slice(starts[k], starts[k + 1])
        least, most = horizon.floor[part, c], horizon.ceiling[part, c]
        look = _Look(k, prices.watt[part], lost[part], prices.weight[k])
        if not pwm and not channel.shares:
            every = _branch(channel.branches[0], places[0], look, np.ones(len(least)))
            allowed = (levels >= least[:, None]) & (levels <= most[:, None] + SAME)
            found[part] = np.where(allowed, every, -np.inf).max(axis=1)
            continue
        current = _current_price(channel, currents, places, look, 1.0 if pwm else duty[k, c])
        ends = []
        for share in (least, most):
            if not share.any():
                ends.append(np.full(len(share), _resting(channel, places, look)))
                continue
            on = share if pwm else np.ones(len(share))
            total = share * current * channel.full_a
            for one, at_a, place in zip(channel.branches, currents, places, strict=True):
                every = _branch(one, place, look, on)
                every -= (on * current)[:, None] * one.count * at_a
                total += every.max(axis=1)
            ends.append(total)
        found[part] = np.maximum(*ends)
    return found


class _Look(NamedTuple):
    """The instants l of a slot: prices of a watt (l, U) and of the lost power (l); weights (Y)."""

    slot: int
    watt: Array
    lost: Array
    weight: Array


class _Places(NamedTuple):
    """For every group of a branch: temperatures (S, K) and the tables there (S, I K, 3)."""

    at_c: list[Array]
    glow: list[Array]


def _levels(ceiling: Array) -> Array:
    """Duties in current dimming: even steps, and the ceilings that occur."""
    even, own = np.linspace(0.0, 1.0, STEPS + 1), np.unique(ceiling)
    return np.union1d(even, own[:: max(1, len(own) // STEPS)])


def _shared(equal_a: float, most_a: float) -> Array:
    """Currents of a branch that shares, dense about the equal share."""
    near = equal_a * np.linspace(0.0, 2.0, STEPS + 1)
    return np.union1d(near[near <= most_a], np.linspace(0.0, most_a, STEPS // 4))


def _places(case: Case, c: int, branch: Branch, current_a: Array) -> _Places:
    share, kind = np.linspace(0.0, 1.0, PLACES), case.channels[c].kind
    at_c, glows = [], []
    for g in branch.groups:
        low_c, high_c = case.low_c[:, g, None], case.high_c[:, g, None]
        here_c = low_c + share * (high_c - low_c)
        grid_c = np.arange(np.floor(here_c.min()), np.ceil(here_c.max()) + 1.5)
        glow = glow_of(case.plant.machine.emission, kind, branch.offset_v, current_a, grid_c)
        tables = np.stack((case.counts[c] * glow.light_lm, -glow.heat_w, -glow.power_w), axis=2)
        below = np.clip(np.searchsorted(grid_c, here_c) - 1, 0, len(grid_c) - 2)
        part = (here_c - grid_c[below])[..., None]
        there = (1.0 - part) * tables[:, below] + part * tables[:, below + 1]
        at_c.append(here_c)
        glows.append(there.transpose(1, 0, 2, 3).reshape(len(here_c), -1, 3))
    return _Places(at_c, glows)


def _branch(branch: Branch, places: _Places, look: _Look, on: Array) -> Array:
    """At every instant of a slot and every current (l, I): the best junction temperatures."""
    total: Array = np.zeros(())
    for i, (g, count) in enumerate(zip(branch.groups, branch.emitters, strict=True)):
        worth = np.stack((np.ones(len(on)), look.watt[:, g], look.lost), axis=1)
        gain = (count * on[:, None] * worth) @ places.glow[i][look.slot].T
        gain = gain.reshape(len(on), -1, PLACES) + look.weight[g] * places.at_c[i][look.slot]
        total = total + gain.max(axis=2)
    return total


def _resting(channel: Channel, places: list[_Places], look: _Look) -> float:
    """In a slot: the best junction temperatures of a channel while it is dark."""
    return float(
        sum(
            (look.weight[g] * at_c[look.slot]).max()
            for branch, place in zip(channel.branches, places, strict=True)
            for g, at_c in zip(branch.groups, place.at_c, strict=True)
        )
    )


def _current_price(
    channel: Channel, currents: list[Array], places: list[_Places], look: _Look, duty: float
) -> Array:
    """What an ampere more would bring at equal shares, in the middle of where junctions can be."""
    if not channel.shares:
        return np.zeros(len(look.lost))
    at_a, branch = currents[0], channel.branches[0]
    i = np.clip(np.searchsorted(at_a, duty * channel.full_a / channel.parallel), 1, len(at_a) - 2)
    worth = np.stack((np.ones(len(look.lost)), look.watt[:, branch.groups[0]], look.lost), axis=1)
    glow = places[0].glow[0][look.slot].reshape(len(at_a), PLACES, 3)[:, PLACES // 2]
    more = (glow[i + 1] - glow[i - 1]) / (at_a[i + 1] - at_a[i - 1])
    return np.asarray(sum(branch.emitters) / branch.count * (worth @ more))


def of_others(case: Case, prices: Prices) -> Array:
    """Supremum of the other nodes' part at every instant: at an end, or where a surface sheds."""
    horizon, exchange = case.horizon, case.plant.machine.exchange
    found = np.zeros(len(horizon.at_s))
    at_once = direct(correction_w, exchange, 0, 0.0, 0.0, 0.0)
    surface = prices.watt.shape[1] - len(exchange.node)
    share = np.linspace(0.0, 1.0, PLACES)
    for y in range(case.groups, len(case.node)):
        low_c, high_c = case.low_c[:, y, None], case.high_c[:, y, None]
        at_c = low_c + share * (high_c - low_c)
        gain = (prices.weight[:, y, None] * at_c)[horizon.slot]
        for s in np.flatnonzero(exchange.node == case.node[y]):
            ends = np.array([
                [[at_once(exchange, int(s), float(c), float(outside), float(flow)) for c in row]
                 for outside in horizon.ambient_c[k, :, exchange.ambient[s]]]
                for k, (row, flow) in enumerate(zip(at_c, horizon.airflow, strict=True))
            ])  # fmt: skip
            passed = (horizon.at_s - horizon.edge_s[horizon.slot]) / horizon.length_s[horizon.slot]
            corrected = ends[horizon.slot, 0] * (1.0 - passed[:, None])
            corrected += ends[horizon.slot, 1] * passed[:, None]
            gain -= prices.watt[:, surface + s, None] * corrected
        found += gain.max(axis=1)
    return found
