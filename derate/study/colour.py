"""The colour of a mix over a run: where warm emitters and the limit take it from what was asked.

Asked is the mixture that the request would give with every emitter at its reference junction
temperature. Each channel loses light with temperature in its own way, and its peak moves, so that
the mix shifts although the limit takes the same share from all of them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.loop.trace import Trace
from derate.plant.mix import asked_xyz, coloured, mixed_xyz
from derate.plant.tristimulus import distance, uv_of
from derate.study.white import White, white_of

Array = NDArray[np.float64]

STILL = 1e-3
"""A request that moves by more than this at a tick [of full drive] has not reached the light yet:
the row is not judged, for its light is partly that of the request before."""
LEAST_OF_ASKED = 1e-3
"""Light below this share of what is asked counts as dark; no colour is seen in it."""


@dataclass(frozen=True, eq=False)
class ColourCourse:
    """The mix over ``time_s`` (n) [s], a row as in the trace: from a tick to the next.

    ``uv``, ``asked_uv`` (n, 2): CIE 1976 u', v' of the mix and of what was asked; ``shift`` (n):
    their distance, delta u'v'. nan where nothing is asked, the lamp is dark, or the request has
    just moved. ``largest`` at ``largest_s`` [s], ``mean`` over ``judged_s`` [s] of the run.
    ``asked_white``, ``white``: the colour temperatures asked and given at the largest shift, None
    where that is no white.
    """

    time_s: Array
    uv: Array
    asked_uv: Array
    shift: Array
    largest: float
    largest_s: float
    mean: float
    judged_s: float
    asked_white: White | None
    white: White | None

    @property
    def at(self) -> int:
        """The row of the largest shift."""
        return int(np.nanargmax(self.shift))


def colour_course(lamp: Lamp, trace: Trace) -> ColourCourse | None:
    """The colour of a run's mix; None unless every channel that is ever lit has a colour.

    None also for a lamp of one channel alone, whose mix is no mix, and where no row can be judged.
    """
    names = [name for name in lamp.channels if np.any(trace[f"request_{name}"] > 0.0)]
    lit = [name for name in lamp.channels if np.any(trace[f"light_{name}_lm"] > 0.0)]
    if len(names) < 2 or not coloured(lamp, names) or not set(lit) <= set(names):
        return None
    requests = {name: trace[f"request_{name}"] for name in names}
    asked = asked_xyz(lamp, requests)
    mix = mixed_xyz(
        lamp,
        {name: trace[f"light_{name}_lm"] for name in names},
        {name: trace[f"junction_{name}_c"] for name in names},
    )
    uv, asked_uv = uv_of(mix), uv_of(asked)
    unseen = ~_still(requests) | (mix[:, 1] <= LEAST_OF_ASKED * asked[:, 1])
    uv[unseen] = asked_uv[unseen] = np.nan
    shift = distance(uv, asked_uv)
    return _course(trace["time_s"], uv, asked_uv, shift)


def _course(time_s: Array, uv: Array, asked_uv: Array, shift: Array) -> ColourCourse | None:
    """The figures of a shift over time; None where there is none."""
    held_s = np.append(np.diff(time_s), 0.0)
    judged = np.isfinite(shift) & (held_s > 0.0)
    if not judged.any():
        return None
    at = int(np.argmax(np.where(judged, shift, -1.0)))
    return ColourCourse(
        time_s,
        uv,
        asked_uv,
        np.where(judged, shift, np.nan),
        float(shift[at]),
        float(time_s[at]),
        float(np.average(shift[judged], weights=held_s[judged])),
        float(held_s[judged].sum()),
        white_of(asked_uv[at]),
        white_of(uv[at]),
    )


def _still(requests: dict[str, Array]) -> NDArray[np.bool_]:
    """Rows at which no request has moved since the row before; the first has not been reached."""
    together = np.array(list(requests.values()))
    moved = np.abs(np.diff(together, axis=1, prepend=np.inf)) > STILL
    return np.asarray(~moved.any(axis=0))
