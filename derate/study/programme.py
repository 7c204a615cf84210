"""The linear programme of the possible: a plan, and what a kelvin is worth at every time.

Variables of slot k, all means over the slot but the first: modes z at its end, duty of every
channel (in current dimming cut into pieces, the later the less efficient), w = mean of duty times
junction temperature of every group, temperature T of every node that matters, heat s by which the
surfaces correct the network. With f = drive q + drive a what pushes the modes,

    z_k = DECAY M z_(k-1) + CHARGE f                             M: changes of configuration
    T   = response (MEAN_HOLD M z_(k-1) + MEAN_CHARGE f, q, a) <= limit
    response z_k <= limit                                at the slot's end, nodes of capacity
    q   = alpha d + beta w,    light = gamma d + delta w        lines through the hot end
    low d <= w <= high d,   most (T - high) <= w - high d,   w - low d <= most (T - low)
    s  >= the chord of the correction over where T can be

and the light is maximised. Modes that settle within a small part of a slot follow f at once. The
duals of the rows of T and of the slots' ends say what a kelvin at that node and time costs;
``certificate`` turns them into a bound that does not rest on any of the approximations made here.
"""

from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import vstack

from derate.plant.modes import Modes
from derate.study.case import Case
from derate.study.rows import Rows
from derate.study.straight import Lines, chords_of, lines_of
from derate.study.worth import Worth

Array = NDArray[np.float64]

PIECES: Final = 8
"""Of a duty in current dimming."""
FAR_K: Final = 1e4
"""A limit so much higher is none [K]."""
QUICK: Final = 12.0
"""A mode that settles so many times within every slot follows at once [-]."""


_optimum: Any = linprog  # scipy's stubs know no array of bounds


class Programme:
    """The programme of a case, built once, solved for limits a little lower or higher."""

    def __init__(self, case: Case) -> None:
        self.case = case
        plant, horizon = case.plant, case.horizon
        emission = plant.machine.emission
        self.pieces = 1 if emission.pwm else PIECES
        self.surfaces = len(plant.machine.exchange.node)
        quickest = QUICK / horizon.length_s.min()
        modes = [plant.modes[i] for i in np.unique(horizon.configuration)]
        self.slow = max(int((one.rate < quickest).sum()) for one in modes)
        self.order = {id(one): np.argsort(one.rate) for one in modes}
        counts = (self.slow, len(case.channels) * self.pieces, case.groups, len(case.node),
                  self.surfaces)  # fmt: skip
        ends = np.cumsum((0, *counts))
        self.z, self.d, self.w, self.t, self.s = (slice(a, b) for a, b in pairwise(ends))
        self.width = int(ends[-1])
        heavy = np.abs(plant.modes[0].project[:, case.node]).max(axis=0) > 0.0
        self.ending = np.flatnonzero(heavy & np.isfinite(case.limit_c))
        self._group()
        self._assemble()

    def _group(self) -> None:
        """Channel, emitters and chords of every group."""
        case = self.case
        self.channel_of = np.zeros(case.groups, int)
        self.emitters = np.zeros(case.groups)
        self.lines: list[Lines] = [None] * case.groups  # type: ignore[list-item]
        for c, channel in enumerate(case.channels):
            for branch in channel.branches:
                for g, count in zip(branch.groups, branch.emitters, strict=True):
                    self.channel_of[g], self.emitters[g] = c, count
                    self.lines[g] = lines_of(case, c, g, branch.offset_v, self.pieces)

    def _duty_columns(self, c: int) -> slice:
        first = self.d.start + c * self.pieces
        return slice(first, first + self.pieces)

    def _heats(self, k: int) -> tuple[Array, Array]:
        """Heat inputs of slot k [W]: by its variables (U, width), and constants (U)."""
        emission = self.case.plant.machine.emission
        modes = self.case.plant.modes[0]
        inputs = len(modes.felt)
        by, constant = np.zeros((inputs, self.width)), np.zeros(inputs)
        for g, (lines, count) in enumerate(zip(self.lines, self.emitters, strict=True)):
            columns = self._duty_columns(int(self.channel_of[g]))
            by[g, columns] += count * lines.base[0, k]
            by[g, self.w.start + g] += count * lines.slope[0, k]
            if emission.loss_input >= 0:
                lost = count * (emission.supply_per_load - 1.0)
                by[emission.loss_input, columns] += lost * lines.base[1, k]
                by[emission.loss_input, self.w.start + g] += lost * lines.slope[1, k]
        if emission.bypass_input >= 0 and self.case.horizon.most[k].any():
            for c, channel in enumerate(self.case.channels):
                closed_w = channel.full_a**2 * emission.bypass_ohm
                constant[emission.bypass_input] += closed_w
                by[emission.bypass_input, self._duty_columns(c)] -= closed_w
        by[inputs - self.surfaces :, self.s] = np.eye(self.surfaces)
        return by, constant

    def _assemble(self) -> None:
        case, horizon = self.case, self.case.horizon
        slots, groups = len(horizon.airflow), case.groups
        eq, ub, closing = Rows(self.width), Rows(self.width), Rows(self.width)
        self.objective = np.zeros((slots, self.width))
        self.lower = np.full((slots, self.width), -np.inf)
        self.upper = np.full((slots, self.width), np.inf)
        start = case.plant.beginning()[0].node_c[0]
        before: Modes | None = None
        chords = chords_of(case)
        for k in range(slots):
            modes = case.plant.modes[horizon.configuration[k]]
            by, constant = self._heats(k)
            self._motion(eq, closing, k, modes, before, start, by, constant)
            before = modes
            self._bilinear(ub, k)
            self._shedding(ub, k, *chords)
            length_s = horizon.length_s[k]
            for g in range(groups):
                columns = self._duty_columns(int(self.channel_of[g]))
                gain = length_s * self.emitters[g] * case.counts[self.channel_of[g]]
                self.objective[k, columns] -= gain * self.lines[g].base[2, k]
                self.objective[k, self.w.start + g] -= gain * self.lines[g].slope[2, k]
            for c in range(len(case.channels)):
                ends = np.arange(self.pieces + 1) / self.pieces
                columns = self._duty_columns(c)
                for bounds, duty in ((self.lower, horizon.least[k, c]),
                                     (self.upper, horizon.most[k, c])):  # fmt: skip
                    bounds[k, columns] = np.clip(duty - ends[:-1], 0.0, 1.0 / self.pieces)
        self.equal, self.equal_to = eq.done(slots)
        below, below_to = ub.done(slots)
        edge, self.edge_to = closing.done(slots)
        self.below: Any = vstack((edge, below))
        self.below_to = below_to

    def _motion(
        self,
        rows: Rows,
        closing: Rows,
        k: int,
        modes: Modes,
        before: Modes | None,
        start_c: Array,
        by: Array,
        constant: Array,
    ) -> None:
        """Rows of the modes' ends and of the temperatures of slot k."""
        case, slow, nodes = self.case, self.slow, self.case.node
        h, count = case.horizon.length_s[k], len(modes.rate)
        order = self.order[id(modes)]
        rate = modes.rate[order]
        x = rate * h
        short = x < 1e-6
        safe = np.where(short, 1.0, x)
        fallen = -np.expm1(-x)
        charge = h * np.where(short, 1.0, fallen / safe)
        hold = charge / h
        mean = h * np.where(short, 0.5, (x - fallen) / safe**2)
        quick = np.arange(count) >= slow
        mean = np.where(quick, 1.0 / np.maximum(rate, 1e-300), mean)
        drive, response = modes.drive[:, order], modes.response[:count][order][:, nodes]
        at_once = modes.response[count:, nodes]
        inputs = len(constant)
        ambient_c = case.horizon.ambient_c[k].mean(axis=0)
        fixed = np.concatenate((constant, ambient_c))
        push, push_fixed = drive[:inputs].T @ by, drive.T @ fixed
        z = np.zeros((slow, self.width))
        z[:, self.z] = np.eye(slow)
        z -= charge[:slow, None] * push[:slow]
        t = np.zeros((len(nodes), self.width))
        t[:, self.t] = np.eye(len(nodes))
        t -= response.T @ (mean[:, None] * push) + at_once[:inputs].T @ by
        z_fixed = charge[:slow] * push_fixed[:slow]
        t_fixed = response.T @ (mean * push_fixed) + at_once.T @ fixed
        earlier = None
        if before is None:
            z0 = (modes.project @ start_c)[order][:slow]
            z_fixed = z_fixed + np.exp(-x[:slow]) * z0
            t_fixed = t_fixed + response[:slow].T @ (hold[:slow] * z0)
        else:
            turned = np.eye(slow)
            if before is not modes:
                first = self.order[id(before)][:slow]
                turned = (modes.project[order[:slow]] @ before.response[: len(before.rate),
                          : modes.project.shape[1]][first].T)  # fmt: skip
            earlier = np.zeros((slow + len(nodes), self.width))
            earlier[:slow, self.z] = -np.exp(-x[:slow])[:, None] * turned
            earlier[slow:, self.z] = -(response[:slow].T * hold[:slow]) @ turned
        rows.add(k, np.vstack((z, t)), np.concatenate((z_fixed, t_fixed)), earlier)
        at_end = response[slow:] / np.maximum(rate[slow:, None], 1e-300)
        edge = at_end.T @ push[slow:]
        edge[:, self.z] = response[:slow].T
        to = case.limit_c - at_end.T @ push_fixed[slow:]
        closing.add(k, edge[self.ending], to[self.ending])

    def _bilinear(self, rows: Rows, k: int) -> None:
        """Rows between w, the duty and the temperature of every group."""
        case = self.case
        for g in range(case.groups):
            c = int(self.channel_of[g])
            low_c, high_c, most = case.low_c[k, g], case.high_c[k, g], case.horizon.most[k, c]
            block = np.zeros((4, self.width))
            columns = self._duty_columns(c)
            block[:, self.w.start + g] = (-1.0, -1.0, 1.0, 1.0)
            block[:, columns] = np.array((low_c, high_c, -high_c, -low_c))[:, None]
            block[:, self.t.start + g] = (0.0, most, 0.0, -most)
            rows.add(k, block, np.array((0.0, most * high_c, 0.0, -most * low_c)))

    def _shedding(self, rows: Rows, k: int, base: Array, slope: Array) -> None:
        """Rows of the surfaces."""
        case = self.case
        for s, node in enumerate(case.plant.machine.exchange.node):
            y = int(np.flatnonzero(case.node == node)[0])
            block = np.zeros((1, self.width))
            block[0, self.s.start + s], block[0, self.t.start + y] = -1.0, slope[k, s]
            rows.add(k, block, np.array([-base[k, s]]))

    def solve(self, below_k: Array, *, edges: bool = True) -> Worth | None:
        """The plan with every limit lower by ``below_k`` (S, Y) [K]; None where there is none.

        Without ``edges`` only means over slots and the end of the last are limited: in slots long
        beside the lamp's time constants that gives the better prices.
        """
        case = self.case
        upper = self.upper.copy()
        upper[:, self.t] = case.limit_c - below_k
        edge_to = self.edge_to.reshape(len(upper), -1) - below_k[:, self.ending]
        edge_to[:-1] += 0.0 if edges else FAR_K
        found = None
        for presolve in (False, True):
            found = _optimum(
                self.objective.ravel(),
                A_ub=self.below,
                b_ub=np.concatenate((edge_to.ravel(), self.below_to)),
                A_eq=self.equal,
                b_eq=self.equal_to,
                bounds=np.stack((self.lower.ravel(), upper.ravel()), axis=1),
                method="highs",
                options={"presolve": presolve},
            )
            if found.x is not None:
                break
        if found is None or found.x is None:
            return None
        slots = len(upper)
        x = found.x.reshape(slots, self.width)
        duty = x[:, self.d].reshape(slots, len(case.channels), self.pieces).sum(axis=2)
        rows = self.slow + len(case.node)
        mean = found.eqlin.marginals.reshape(slots, rows)[:, self.slow :]
        edge = np.zeros(below_k.shape)
        edge[:, self.ending] = -found.ineqlin.marginals[: edge_to.size].reshape(edge_to.shape)
        return Worth(np.clip(duty, 0.0, 1.0), mean, edge)
