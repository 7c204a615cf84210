"""Cells to be reduced, and what is known of them through the patterns found so far."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
import scipy.sparse as sparse
from numpy.typing import NDArray

from derate.plant.board.model import Judge, Model, judge_of

Array = NDArray[np.float64]
Exchange = Mapping[str, float]
"""Of some faces, the heat transfer to what lies outside [W/(m^2 K)]."""

Cells = NDArray[np.int64] | slice
EVERYWHERE = slice(None)

NEGLIGIBLE = 1e-6
"""A pattern of which less [-] is left beside those that are known is one of them."""


@dataclass(frozen=True, eq=False)
class Problem:
    """Cells seen in the coordinates in which every cell has a capacity of one.

    With C^1/2 T for T: ``uniform`` (M) is C^1/2, ``conduction`` (M, M) is C^-1/2 K C^-1/2 of all
    conduction K, ``shed`` (M) of each face that exchanges heat is C^-1 area, ``inputs`` (M, m) is
    C^-1/2 b of the mean of the board, ``spots`` kept nodes, and faces. ``heated``: inputs of which
    answers are judged; ``groups``: those heated at once. ``reference``: the exchange at which rises
    are exact; ``solved``: others whose answers are among the patterns; ``elsewhere``: those where
    step answers are judged; ``between``: those where rises are.
    """

    uniform: Array
    conduction: sparse.csc_array
    shed: dict[str, Array]
    inputs: Array
    spots: int
    heated: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...]
    reference: Exchange
    solved: tuple[Exchange, ...]
    elsewhere: tuple[Exchange, ...]
    between: tuple[Exchange, ...]

    def conductance(self, exchange: Exchange, rate_per_s: float = 0.0) -> sparse.csc_array:
        """Conduction, exchange, and the capacities times a rate s: G + s C."""
        diagonal = rate_per_s + self.shed_by(exchange)
        return self.conduction + sparse.diags_array(diagonal, format="csc")

    def shed_by(self, exchange: Exchange) -> Array:
        """What the faces exchange, on the diagonal (M)."""
        diagonal = np.zeros(len(self.uniform))
        for name, each in exchange.items():
            diagonal += each * self.shed[name]
        return diagonal

    def judge(self, rise: Array) -> Judge:
        """What errors count where the steady rises between inputs are these (m, m) [K/W]."""
        return judge_of(rise, self.heated, self.groups, self.spots)


class Known:
    """Orthonormal patterns (M, n), kept in the blocks in which they came, and the cells in them."""

    def __init__(self, problem: Problem, patterns: Array) -> None:
        self.problem = problem
        self.blocks: list[Array] = []
        self._conduction = np.zeros((0, 0))
        self._shed = {name: np.zeros((0, 0)) for name in problem.shed}
        self._inputs = np.zeros((0, problem.inputs.shape[1]))
        self._take(patterns)

    def join(self, patterns: Array) -> bool:
        """Add what further patterns (M, k) bring; whether that is anything."""
        new = self._beside(patterns)
        self._take(new)
        return new.shape[1] > 0

    def at(self, exchange: Exchange) -> Model:
        """The cells with their state sought in the patterns."""
        conductance = self._conduction + sum(
            each * self._shed[name] for name, each in exchange.items()
        )
        return Model(np.eye(len(conductance)), conductance, self._inputs)

    def combined(self, chosen: Array) -> Array:
        """Combinations (n, k) of the patterns in the cells (M, k)."""
        ends = np.cumsum([block.shape[1] for block in self.blocks])[:-1]
        parts = zip(self.blocks, np.split(chosen, ends), strict=True)
        return np.asarray(sum(block @ part for block, part in parts))

    def _take(self, new: Array) -> None:
        self.blocks.append(new)
        self._conduction = self._grown(self._conduction, self.problem.conduction @ new)
        for name, shed in self.problem.shed.items():
            there = np.flatnonzero(shed)
            self._shed[name] = self._grown(self._shed[name], shed[there, None] * new[there], there)
        self._inputs = np.vstack((self._inputs, new.T @ self.problem.inputs))

    def _grown(self, seen: Array, moved: Array, there: Cells = EVERYWHERE) -> Array:
        """A matrix of the cells as the patterns see it, with what it makes of the last block;
        ``there``: the cells in which that is not zero."""
        column = np.vstack([block[there].T @ moved for block in self.blocks])
        known = len(seen)
        return np.block([[seen, column[:known]], [column[:known].T, column[known:]]])

    def _beside(self, patterns: Array) -> Array:
        """What patterns (M, k) add to those that are known, made orthonormal."""
        basis = patterns
        for _ in range(2):
            basis = basis / np.linalg.norm(basis, axis=0)
            for block in self.blocks:
                basis -= block @ (block.T @ basis)
            weight, turn = dense.eigh(basis.T @ basis)
            kept = weight > NEGLIGIBLE**2
            basis = basis @ (turn[:, kept] / np.sqrt(weight[kept]))
        return basis
