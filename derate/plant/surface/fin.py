"""How much of a fin's area counts: its efficiency."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

THICK: Final = 0.0625
"""h t / k [-] up to which a fin is of one temperature across, and its corrected length good."""


def efficiency(loss_per_m: Array | float, height_m: float) -> Array:
    """Mean over base temperature rise [-] of a straight fin of constant section.

        eta = tanh(m H) / (m H)        m = sqrt(h perimeter / (conductivity section))

    ``loss_per_m``: m [1/m], sqrt(2 h / (k t)) for a plate of thickness t cooled on both sides;
    ``height_m``: the height and half the thickness, so that the tip sheds too (corrected length,
    good where h t / k < 0.0625). Incropera, section 3.6.
    """
    x = np.maximum(np.asarray(loss_per_m) * height_m, 1e-9)
    return np.asarray(np.tanh(x) / x)
