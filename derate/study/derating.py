"""How much may be driven at each ambient, and which limit says so."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Derating:
    """The derating curve over ``ambient_c`` (n) [degC].

    ``permitted`` (n): largest common duty 0..1 at which every limit holds, times ``mix`` per
    channel (1 for all unless the requests differ); 0 where even darkness does not hold.
    ``light_lm`` (n) [lm]: light of the lamp there. ``acting`` (n): what stops it, the name of a
    node, "runaway", or "" where full drive is permitted. ``full_until_c`` [degC]: highest ambient
    of full drive, ``dark_from_c`` [degC]: lowest at which nothing is permitted; nan where outside
    the grid. ``here``: permitted at the ambient of the point, with ``here_lm`` [lm] and
    ``here_acting``.
    """

    mix: dict[str, float]
    ambient_c: Array
    permitted: Array
    light_lm: Array
    acting: tuple[str, ...]
    full_until_c: float
    dark_from_c: float
    here: float
    here_lm: float
    here_acting: str
