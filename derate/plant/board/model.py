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
        return np.asarray((seen * grown[:, None, :]) @ seen.T)


@dataclass(frozen=True, eq=False)
class Judge:
    """Errors of rises (m, m) [K/W] as shares.

    ``own`` (m): the rise that counts for heat in one input alone, at another output its geometric
    mean with that one's; ``heated``: inputs that are judged so; ``together``: inputs heated at
    once, and the rise that counts then at each output (m).
    """

    own: Array
    heated: tuple[int, ...]
    together: tuple[tuple[tuple[int, ...], Array], ...] = ()

    def worst(self, error: Array) -> float:
        """The largest share in errors (..., m, m) [K/W]."""
        alone = np.abs(error) / np.sqrt(np.outer(self.own, self.own))
        found = float(alone[..., list(self.heated)].max())
        for inputs, rise in self.together:
            at_once = np.abs(error[..., list(inputs)].sum(axis=-1))
            found = max(found, float((at_once / rise).max()))
        return found


def judge_of(
    rise: Array, heated: tuple[int, ...], groups: tuple[tuple[int, ...], ...], spots: int
) -> Judge:
    """What counts where the steady rises are ``rise`` (m, m) [K/W].

    Input 0 is the mean of the board, inputs 1 to ``spots`` are spots on it, further ones are whole
    faces. A spot's rise counts above the mean of the board, which may be a small part of it; for
    heat that enters all over the board the mean itself counts. Of a group, a rise above the mean
    smaller than ``FAINT`` of the group's largest counts as that.
    """
    above = rise - rise[0] - rise[:, :1] + rise[0, 0]
    own = np.full(len(rise), rise[0, 0])
    own[1 : spots + 1] = np.diag(above)[1 : spots + 1]
    together = []
    for group in groups:
        local = np.abs((rise - rise[0])[:, list(group)].sum(axis=1))
        together.append((group, np.maximum(local, FAINT * local.max())))
    return Judge(own, heated, tuple(together))
