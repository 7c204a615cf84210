"""How cold a sensor may read: a line that no reading lies below.

    reading >= gain * T + offset        T: temperature of the sensor's body [degC]

over all temperatures of the body that do not read as the cut-off, as near as can be to the least
reading of any unit within its tolerances where the policy acts. The band is that of the error
budget (``derate.sensing.budget``), every combination of limits, without what the sensor's place
makes of it: that lies in the thermal network here. Noise counts at 4 sigma, as there.
"""

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from derate.lamp.lamp import Lamp
from derate.limits.worst.law import Law
from derate.sensing import deviation as place
from derate.sensing.contribution import ends_of, situation_of
from derate.sensing.deviation import corner_lsb
from derate.sensing.prepared import study
from derate.sensing.reading_table import readings

Array = NDArray[np.float64]

FINE_K: Final = 0.1
"""Between temperatures at which the band is looked at, where the policy acts."""
COARSE_K: Final = 1.0
"""The same elsewhere."""
AROUND_K: Final = 3.0
"""Beyond where the policy acts it is still looked at closely."""
_optimum: Any = linprog  # scipy's stubs know no array of bounds


class Least(NamedTuple):
    """The line: ``gain`` [-], ``offset_c`` [degC]; ``cold_k``: how much colder than the body a
    reading can be where the policy acts [K]."""

    gain: float
    offset_c: float
    cold_k: float


def least_reading(lamp: Lamp, sensor: str, law: Law, low_c: float, high_c: float) -> Least:
    """The line of a sensor whose body is between ``low_c`` and ``high_c`` [degC]."""
    body_c, found_c = _least_c(lamp, sensor, law, low_c, high_c)
    warmest = int(np.searchsorted(found_c, law.reading_c[-1]))
    body_c, found_c = body_c[: warmest + 1], found_c[: warmest + 1]
    acts = (body_c >= law.reading_c[0] - AROUND_K) & (body_c <= law.reading_c[-3:][0] + AROUND_K)
    about_c = body_c[acts] if acts.any() else body_c[-1:]
    # between two temperatures the reading is at least that of the colder one
    below = np.column_stack((np.append(body_c[1:], body_c[0]), np.ones(len(body_c))))
    near = np.column_stack((-about_c, -np.ones(len(about_c))))
    line = _optimum(
        [0.0, 0.0, 1.0],
        A_ub=np.block([[below, np.zeros((len(below), 1))], [near, -np.ones((len(near), 1))]]),
        b_ub=np.concatenate((found_c[:-1], found_c[:1], -about_c)),
        bounds=[(0.0, 2.0), (None, None), (None, None)],
        method="highs",
    )
    gain, offset_c, cold_k = line.x
    return Least(float(gain), float(offset_c), float(cold_k))


def _least_c(lamp: Lamp, sensor: str, law: Law, low_c: float, high_c: float) -> tuple[Array, Array]:
    """Temperatures of the body, and the least reading of any unit at each [degC]."""
    ready = study(lamp.toleranced(sensor), situation_of(lamp), where=f"sensors.{sensor}")
    alone = ready.body._replace(heat_k_per_w=0.0, lag_s=0.0, ambient_share=0.0)
    ends = ends_of(ready.causes)
    ends[place.QUANTUM] = 0.0  # codes are whole numbers here
    fine_c = np.arange(law.reading_c[0] - AROUND_K, law.reading_c[-1] + AROUND_K, FINE_K)
    body_c = np.union1d(np.arange(low_c, high_c, COARSE_K), np.append(fine_c, high_c))
    body_c = body_c[(body_c >= low_c) & (body_c <= high_c)]
    reach = corner_lsb(ready.circuit, alone, ends, body_c)
    window = ready.table.window
    first, last = window.low_code + 1, window.high_code - 1
    read_c = readings(ready.table, np.arange(first, last + 1)) / ready.table.scale
    found_c = np.empty(len(body_c))
    for i, (least, most) in enumerate(np.clip(np.floor(reach).astype(int), first, last)):
        found_c[i] = read_c[least - first : most - first + 1].min()
    return body_c, np.minimum.accumulate(found_c[::-1])[::-1]
