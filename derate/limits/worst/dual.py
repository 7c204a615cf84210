"""Prices for a bound, found by a linear programme.

The prices of every line of the law are taken as straight between edges that lie the closer the
nearer to the end, a tick apart there. What heat adds to the node at the end, less what it costs by
raising readings, is then linear in them by the walk of ``ticks``, and the bound a sum of positive
parts over the slots between edges, which makes a linear programme (HiGHS). It takes the sums over
a slot where ``ticks`` takes each tick, and heat at its most. The programme's own duals are the plan
that it fears: how much light at which time, in which air.
"""

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array, hstack, vstack

from derate.limits.worst.linear import Linear
from derate.limits.worst.ticks import HIGH, LATE_W, LOW, PER_K, TAKEN, Case

Array = NDArray[np.float64]

FIRST_TICKS: Final = 40
"""Slots of a single tick at the end."""
GROWTH: Final = 1.08
"""Every slot before is so many times as long as the one after [-]."""
WAYS: Final = (("highs-ds", True), ("highs-ds", False), ("highs-ipm", True))
"""How the programme is solved; the next one is tried where rounding got the better of one."""
_optimum: Any = linprog  # scipy's stubs know no array of bounds


class Prices(NamedTuple):
    """Of S slots: ``of_line`` (S + 1, I) [K] and ``of_wind`` (S + 1, W) [K/W]:
    prices at their edges; ``light`` (S, C) [0..1] and
    ``windy`` (S): the plan: duty, and whether the wind blows; ``ambient`` (M) [0..1]: 1 for the
    hottest."""

    of_line: Array
    of_wind: Array
    light: Array
    windy: NDArray[np.bool_]
    ambient: Array


def slots_of(ticks: int) -> NDArray[np.int64]:
    """Edges of the slots in ticks before the end, the first 0, the last ``ticks``."""
    edges, width = [0], 1.0
    while edges[-1] < ticks:
        edges.append(min(ticks, edges[-1] + max(1, int(width))))
        if len(edges) > FIRST_TICKS:
            width *= GROWTH
    return np.array(edges)


def prices(
    linear: Linear, case: Case, target: Array, edges: NDArray[np.int64], heard: Array
) -> Prices:
    """The best prices for a node whose response is ``target`` (n + U + M).

    ``heard``: of the same case and edges, from ``heard_of``.
    """
    return _Programme(linear, case, target, edges, heard).solved()


class _Programme:
    """Rows and columns of the programme.

    Columns: prices at the edges of lines (I, S + 1) and wind (W, S + 1), worth of light by channel
    (C, S), of the limit (S), of heat that may come without duty (F, S), of ambients (M).
    """

    def __init__(
        self,
        linear: Linear,
        case: Case,
        target: Array,
        edges: NDArray[np.int64],
        heard: Array,
    ) -> None:
        self.case, self.slots = case, len(edges) - 1
        self.base = _of_heat(case, target, edges)
        winds = len(case.wind)
        of_sensors, of_wind = heard[:, : len(case.sensed)], heard[:, len(case.sensed) :]
        taken = case.free[TAKEN, case.wind]
        self.costs = np.concatenate((
            case.slope[:, None, None] * of_sensors[:, case.sensor],
            -taken[:, None, None] * of_wind,
        ), axis=1)  # fmt: skip
        self.inputs, self.hat = case.most_w.shape[1], _hats(np.diff(edges))
        self.free = np.flatnonzero((case.free[HIGH] != 0.0) | (case.free[LOW] != 0.0)).tolist()
        self.lines, self.channels = len(case.slope), len(case.most_w)
        self.ambients = len(case.drive) - self.inputs
        slots, ambients = self.slots, self.ambients
        priced = (self.lines + winds) * (slots + 1)
        counts = (priced, self.channels * slots, slots, len(self.free) * slots, ambients)
        self.begin = np.concatenate(([0], np.cumsum(counts)))
        self.width = int(self.begin[-1])
        self.rows: list[Any] = []
        self.to: list[Array] = []
        for c, most_w in enumerate(case.most_w):
            self._demand(np.append(most_w, np.zeros(ambients)), self.begin[1] + c * slots)
        self._limits()
        cold_c, hot_c = linear.span.ambient_c
        each = np.eye(self.inputs + ambients)
        for f, u in enumerate(self.free):
            high_w = case.free[HIGH, u] + case.free[PER_K, u] * hot_c
            for heat_w in (high_w, case.free[LOW, u]):
                self._demand(heat_w * each[u], self.begin[3] + f * slots, heat_w * self._blown(u))
        for m in range(ambients):
            constant, block = self._of(each[self.inputs + m])
            for u in case.wind[case.whose[case.wind] == m].tolist():
                block = block - case.free[TAKEN, u] * self._blown(u)
            for at_c in (hot_c, cold_c):
                total = np.array([at_c * constant.sum()])
                self._add(at_c * block.sum(axis=0, keepdims=True), self.begin[4] + m, total)

    def _of(self, weights: Array) -> tuple[Array, Array]:
        """Weighted heat prices of each slot: constants (S), by the prices at edges."""
        by = np.tensordot(weights, self.costs, axes=(0, 0)).transpose(1, 0, 2)
        return weights @ self.base, by.reshape(self.slots, -1)

    def _blown(self, u: int) -> Array:
        """The sums of the wind's prices of a heat input over each slot, by the prices at edges."""
        found = np.zeros((self.slots, self.lines + len(self.case.wind), self.slots + 1))
        for w in np.flatnonzero(self.case.wind == u):
            found[:, self.lines + w] = self.hat
        return found.reshape(self.slots, -1)

    def _demand(self, weights: Array, first: int, beside: Array | float = 0.0) -> None:
        """The columns from ``first`` on are at least what weighted heat is worth in each slot."""
        constant, block = self._of(weights)
        self._add(block + beside, first, constant)

    def _add(self, block: Array, first: int, constant: Array) -> None:
        count = len(block)
        own = coo_array(
            (-np.ones(count), (np.arange(count), first + np.arange(count))),
            shape=(count, self.width),
        )
        self.rows.append((own + self._placed(block)).tocsr())
        self.to.append(-constant)

    def _placed(self, block: Array) -> Any:
        """A block over the prices at edges in the width of the programme."""
        beside = coo_array((len(block), self.width - block.shape[1]))
        return hstack((coo_array(block), beside))

    def _limits(self) -> None:
        """The limit of a slot is worth the light of all channels less what its lines cost."""
        slots = np.arange(self.slots)
        light = np.tile(slots, self.channels)
        gains = coo_array(
            (np.ones(len(light)), (light, self.begin[1] + np.arange(len(light)))),
            shape=(self.slots, self.width),
        )
        own = coo_array(
            (-np.ones(self.slots), (slots, self.begin[2] + slots)), shape=(self.slots, self.width)
        )
        free = np.zeros((self.slots, len(self.case.wind) * (self.slots + 1)))
        paid = self._placed(np.hstack((np.tile(self.hat, self.lines), free)))
        self.rows.append((gains - paid + own).tocsr())
        self.to.append(np.zeros(self.slots))

    def solved(self) -> Prices:
        """Prices and plan; no prices at all where the programme finds none."""
        slots = self.slots
        lower = np.zeros(self.width)
        lower[self.begin[3] :] = -np.inf
        cost = np.ones(self.width)
        each = np.concatenate((self.case.height, self.case.free[LATE_W, self.case.wind]))
        cost[: self.begin[1]] = (each[:, None] * self.hat.sum(axis=0)).ravel()
        cost[self.begin[1] : self.begin[2]] = 0.0
        rows, to = vstack(self.rows, format="csr"), np.concatenate(self.to)
        bounds = np.stack((lower, np.full(self.width, np.inf)), axis=1)
        for method, presolve in WAYS:
            found = _optimum(
                cost, A_ub=rows, b_ub=to, bounds=bounds, method=method,
                options={"presolve": presolve},
            )  # fmt: skip
            if found.x is not None:
                break
        if found.x is None:
            return Prices(
                np.zeros((slots + 1, self.lines)),
                np.zeros((slots + 1, len(self.case.wind))),
                np.ones((slots, self.channels)),
                np.zeros(slots, bool),
                np.ones(self.ambients),
            )
        worth = -found.ineqlin.marginals
        light = worth[: self.channels * slots].reshape(self.channels, slots).T
        at = (self.channels + 1) * slots
        ends = worth[at : at + 2 * len(self.free) * slots].reshape(len(self.free), 2, slots)
        wind = self.case.free[LOW, self.free] < 0.0
        windy = (ends[wind, 1] > ends[wind, 0]).any(axis=0)
        ambient = worth[len(worth) - 2 * self.ambients :: 2]
        priced = found.x[: self.begin[1]].reshape(-1, slots + 1).T
        return Prices(
            priced[:, : self.lines],
            priced[:, self.lines :],
            np.clip(light, 0.0, 1.0),
            windy,
            ambient,
        )


def _hats(widths: NDArray[np.int64]) -> Array:
    """Sum over the ticks of each slot of the price at each edge (S, S + 1)."""
    found = np.zeros((len(widths), len(widths) + 1))
    for s, width in enumerate(widths):
        found[s, s : s + 2] = 0.5 * (width + 1), 0.5 * (width - 1)
    return found


def _of_heat(case: Case, target: Array, edges: NDArray[np.int64]) -> Array:
    """Sums over the slots of what heat and ambients add to the node (U + M, S).

    Ambients also before the first one, since the lamp begins at rest in them.
    """
    modes = len(case.rate)
    passed_s = np.where(edges > 0, case.last_s + (edges - 1.0) * case.period_s, 0.0)
    left = np.exp(-np.outer(passed_s, case.rate))
    base: Array = case.drive @ ((left[:-1] - left[1:]) / case.rate * target[:modes]).T
    base[:, 0] += target[modes:]
    inputs = case.most_w.shape[1]
    base[inputs:, -1] += case.drive[inputs:] @ (left[-1] / case.rate * target[:modes])
    return base


def heard_of(case: Case, edges: NDArray[np.int64]) -> Array:
    """How much less heat and ambients add where each sensor, and each windy place, is heard.

    (U + M, sensors + W, S, S + 1): sums over each slot, for a price of 1 at each edge.
    """
    modes, slots, inputs = len(case.rate), len(edges) - 1, case.most_w.shape[1]
    places = [(sensed, case.smooth) for sensed in case.sensed] + [(felt, 1.0) for felt in case.felt]
    found = np.zeros((len(case.drive), len(places), slots, slots + 1))
    for s, (response, smooth) in enumerate(places):
        heard, direct, rest = _heard(case, response[:modes], smooth, np.diff(edges))
        found[:, s] = np.tensordot(case.drive, heard, axes=(1, 0))
        found[:, s] += np.multiply.outer(response[modes:], direct)
        found[inputs:, s, -1] += case.drive[inputs:] @ (rest / case.rate[:, None])
    return found


def _heard(
    case: Case, sensed: Array, smooth: float, widths: NDArray[np.int64]
) -> tuple[Array, Array, Array]:
    """What the samples of a place do by a price of 1 at each edge: (n, S, S + 1) sums of p over the
    holds of each slot [s]; (S, S + 1) what acts on the place at once; (n, S + 1): p at the begin.

    The walk of ``ticks``, many ticks at once as powers of one matrix over (p, filter, price, its
    change a tick; sums). Every sample is followed by whole periods.
    """
    modes, slots = len(case.rate), len(widths)
    decay = np.exp(-case.rate * case.period_s)
    held_s = (1.0 - decay) / case.rate
    heard, price, change, over, at_once = modes, modes + 1, modes + 2, modes + 3, 2 * modes + 3
    tick = np.eye(at_once + 1)
    tick[over:at_once, :modes] = np.diag(held_s)
    tick[heard, heard], tick[heard, price] = 1.0 - smooth, 1.0
    tick[:modes, :modes] = np.diag(decay)
    for column in (heard, price):
        tick[:modes, column] = -smooth * tick[heard, column] * sensed
        tick[at_once, column] = -smooth * tick[heard, column]
    tick[price, change] = 1.0
    powers = {width: np.linalg.matrix_power(tick, width) for width in set(widths.tolist())}
    now = np.zeros((at_once + 1, slots + 1))
    found, direct = np.zeros((modes, slots, slots + 1)), np.zeros((slots, slots + 1))
    for s, width in enumerate(widths.tolist()):
        now[price], now[over:] = 0.0, 0.0
        now[change] = 0.0
        now[price, s] = 1.0
        now[change, s], now[change, s + 1] = -1.0 / width, 1.0 / width
        now = powers[width] @ now
        found[:, s], direct[s] = now[over:at_once], now[at_once]
    return found, direct, now[:modes]
