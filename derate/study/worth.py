"""What a kelvin is worth in light, at every node that matters and every time."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Worth(NamedTuple):
    """Light lost with a kelvin [lm s/K], and ``duty`` (S, C) of a plan that goes with it.

    ``mean`` (S, Y): of a node over a slot, any numbers; ``edge`` (S, Y): at the slot's end, none
    negative, 0 for nodes without limit or capacity.
    """

    duty: Array
    mean: Array
    edge: Array

    def spread(self) -> "Worth":
        """The same with each slot's end, but the last, shared by the slots on either side.

        The programme's duties do not change inside a slot, so that it does not care; the bound
        does, since the price of heat then has no teeth.
        """
        mean, edge = self.mean.copy(), self.edge.copy()
        mean[:-1] += 0.5 * edge[:-1]
        mean[1:] += 0.5 * edge[:-1]
        edge[:-1] = 0.0
        return self._replace(mean=mean, edge=edge)
