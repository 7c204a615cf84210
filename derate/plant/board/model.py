"""A small linear network seen from its inputs, and how far two of them lie apart."""

from dataclasses import dataclass

import numpy as np
import scipy.linalg as dense
from numpy.typing import NDArray

Array = NDArray[np.float64]

FAINT = 0.3
"""A rise smaller than this share [-] of the largest counts as this share when errors are judged."""


@dataclass(frozen=True, eq=False)
class Model:
    """Capacity and conductance (n, n), both symmetric positive; inputs (n, m) are outputs too."""

    capacitance: Array
    conductance: Array
    inputs: Array

    def onto(self, patterns: Array) -> "Model":
        """This network with its state sought in ``patterns`` (n, k)."""
        return Model(
            patterns.T @ self.capacitance @ patterns,
            patterns.T @ self.conductance @ patterns,
            patterns.T @ self.inputs,
        )

    def answer(self, rate_per_s: float) -> Array:
        """(G + s C)^-1 b (n, m): the state's answer to each input at the rate s."""
        matrix = self.conductance + rate_per_s * self.capacitance
        return dense.solve(matrix, self.inputs, assume_a="pos")

    def rise(self, rate_per_s: float = 0.0) -> Array:
        """b^T (G + s C)^-1 b (m, m) [K/W]; at s = 0 the steady rise."""
        return self.inputs.T @ self.answer(rate_per_s)

    def steps(self, times_s: Array) -> Array:
        """Rise (times, m, m) [K/W] after heat of one watt is switched on."""
        rate, shape = dense.eigh(self.conductance, self.capacitance)
        seen = self.inputs.T @ shape
        grown = -np.expm1(-np.outer(times_s, rate)) / rate
        return np.einsum("ik,tk,jk->tij", seen, grown, seen, optimize=True)


@dataclass(frozen=True, eq=False)
class Judge:
    """Errors as shares of the steady rise (m, m) [K/W].

    Heat in one input alone is judged by the rise of that input itself and, elsewhere, by the
    geometric mean of the two; heat in all of a group together by the rise at each output, or
    ``FAINT`` of the largest. ``heated``: inputs that count; ``groups``: those that act together.
    """

    steady: Array
    heated: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...] = ()

    def worst(self, error: Array) -> float:
        """The largest share in errors (..., m, m) [K/W]."""
        own = np.sqrt(np.diag(self.steady))
        alone = np.abs(error) / np.outer(own, own)
        found = float(alone[..., list(self.heated)].max())
        for group in self.groups:
            rise = self.steady[:, list(group)].sum(axis=1)
            together = np.abs(error[..., list(group)].sum(axis=-1))
            found = max(found, float((together / np.maximum(rise, FAINT * rise.max())).max()))
        return found
