"""Switching times and levels searched by differential evolution, whole populations at once.

A history is a point of the unit cube: each piece has a length, on a logarithmic scale from one
control period to the whole duration so that bursts and warming through are equally near, a request
for each channel, and the air; the last piece lasts until the end. Requests stick to off and full at
their ends, since where heat rises with command the worst histories switch between these.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, differential_evolution
from scipy.stats.qmc import LatinHypercube

from derate.limits.feared import faults_of
from derate.limits.history import Fault, History, Piece
from derate.limits.space import Place, Space
from derate.limits.trials import Trials

Array = NDArray[np.float64]
PIECES = 5
STICKING = 0.2
"""Share of a request's scale at either end that means off or full."""
SEEDED = 0.5
"""Of a first population, how much comes from histories that are known."""


def optimise(
    trials: Trials,
    surroundings: Sequence[Place],
    known: Sequence[History],
    *,
    population: int,
    generations: int,
    seed: int,
) -> None:
    """Search for less margin, beginning from ``known`` histories; what is found is in ``trials``.

    Raises EnoughError when the search is over.
    """
    scale = Scale(trials.space)
    random = np.random.default_rng(seed)
    first = LatinHypercube(scale.size, rng=random).random(population)
    for row, history in zip(range(int(SEEDED * population)), known, strict=False):
        first[row] = scale.point(history)

    def margins_k(points: Array) -> Array:
        histories = [scale.history(point) for point in points.T]
        tried = trials.run("optimiser", histories, surroundings)
        return np.array([one.worst.margin_k for one in tried])

    of_many: Any = margins_k  # the stubs know no function of many points at once
    differential_evolution(
        of_many,
        Bounds(np.zeros(scale.size), np.ones(scale.size)),
        init=first,
        maxiter=generations,
        vectorized=True,
        updating="deferred",
        polish=False,
        tol=0.0,
        rng=random,
    )


class Scale:
    """Histories of a space as points of a unit cube of ``size`` dimensions, and back."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.kinds = list(faults_of(space, 0.0, None))
        self.size = PIECES * (2 + space.channels) + (3 if self.kinds else 0)

    def history(self, point: Array) -> History:
        """The history at a point."""
        space, width = self.space, 2 + self.space.channels
        rows = point[: PIECES * width].reshape(PIECES, width)
        ratio = space.duration_s / space.period_s
        pieces = [
            Piece(
                space.whole(space.period_s * ratio ** float(row[0])),
                tuple(_request(x) for x in row[1:-1].tolist()),
                space.airflow[0] if row[-1] < 0.5 else space.airflow[1],
            )
            for row in rows
        ]
        left_s = space.duration_s - sum(piece.lasts_s for piece in pieces[:-1])
        pieces[-1] = replace(pieces[-1], lasts_s=max(0.0, round(left_s, 9)))
        found = History(tuple(pieces)).until(space.duration_s)
        return replace(found, faults=self._faults(point)).joined()

    def point(self, history: History) -> Array:
        """A point of a history; of one with more pieces only the last ones count."""
        space, width = self.space, 2 + self.space.channels
        pieces = [history.pieces[0]] * (PIECES - len(history.pieces)) + [*history.pieces][-PIECES:]
        rows = np.zeros((PIECES, width))
        repeated = max(0, PIECES - len(history.pieces))
        scale = np.log(space.duration_s / space.period_s)
        for i, piece in enumerate(pieces):
            lasts_s = space.period_s if i < repeated else max(piece.lasts_s, space.period_s)
            rows[i, 0] = np.log(lasts_s / space.period_s) / scale
            rows[i, 1:-1] = [STICKING + (1.0 - 2.0 * STICKING) * r for r in piece.requests]
            rows[i, -1] = 0.25 if piece.airflow == space.airflow[0] else 0.75
        found = np.concatenate((rows.ravel(), [0.5] * (self.size - rows.size)))
        return np.clip(found, 0.0, 1.0)

    def _faults(self, point: Array) -> tuple[Fault, ...]:
        """At most one, in half of all histories; for good or for a while."""
        if not self.kinds:
            return ()
        which, begin, until = point[-3:].tolist()
        number = int((2.0 * which - 1.0) * len(self.kinds))
        if which < 0.5:
            return ()
        space = self.space
        at_s = space.whole(begin * 0.9 * space.duration_s)
        until_s = None
        if until < 0.7:
            until_s = at_s + space.whole(until * (space.duration_s - at_s))
        fault = self.kinds[min(number, len(self.kinds) - 1)]
        return (replace(fault, at_s=at_s, until_s=until_s),)


def _request(x: float) -> float:
    """A request at a place of its scale, to whole percents."""
    return round(min(1.0, max(0.0, (x - STICKING) / (1.0 - 2.0 * STICKING))), 2)
