"""The command of most light, and the highest ambient at which a level of light is safe."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class BestCommand:
    """Light against command, at the ambient of the point, limits left aside.

    ``command`` (n): common factor on the full currents of the lamp, up to ``table_end``, the end
    of the emitters' current tables; light [lm] and hottest junction [degC] at each; rows without a
    rest are left out. ``most_lm`` at ``most_at``: beyond it more current gives less light, unless
    ``most_at`` is the end of the range (``falls`` False). ``within_lm`` at ``within_at``: most
    light of commands 0..1.
    """

    command: Array
    light_lm: Array
    junction_c: Array
    table_end: float
    most_at: float
    most_lm: float
    falls: bool
    within_at: float
    within_lm: float


@dataclass(frozen=True)
class SafeAmbient:
    """The highest ambient [degC] at which a level of light is served with all limits held.

    ``level`` [-] of ``light_lm`` [lm], which at ``level`` 1 is the light at the requests of the
    point at its ambient, limits left aside. ``ambient_c`` is nan where no ambient of the grid
    serves it; ``duty``: common duty that gives this light there; ``acting``: node that stops it.
    """

    level: float
    light_lm: float
    ambient_c: float
    duty: float
    acting: str
