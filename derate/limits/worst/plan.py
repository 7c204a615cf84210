"""The history that a bound fears, as a mission profile that the timeline can replay.

The plan of the programme says how much light it wants at each time. Where a line of the law has a
price, light is as much as the firmware allows, so that full light is asked for there; elsewhere it
is asked for what the plan wants. The lamp begins at rest in its ambient, some of its longest time
constants before the end.
"""

from itertools import pairwise
from typing import Any, Final

import numpy as np

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.worst.bound import Bound
from derate.limits.worst.linear import Linear

PRICED: Final = 1e-7
"""Share of the largest price below which a line has none [-]."""
ROUND: Final = 0.01
"""Requests are rounded to this [-]."""
KEPT: Final = 0.5
"""Only what lies in this latter part of a history is replayed: five time constants."""
AFTER_TICKS: Final = 3
"""Ticks for which the end of a history goes on, so that the peak lies within."""


def history_of(lamp: Lamp, bound: Bound, linear: Linear, level: float = 1.0) -> Profile:
    """The mission profile of a bound's plan.

    ``level``: below 1, the plan is asked for everywhere, as a share of this limit [0..1].
    """
    plan, period_s = bound.prices, lamp.timing.control_period_s
    priced = plan.of_line.sum(axis=1)
    acting = np.minimum(priced[:-1], priced[1:]) > PRICED * max(float(priced.max()), 1e-300)
    acting &= level == 1.0
    duty = np.interp(plan.light, linear.shares, linear.duties)
    wanted = np.minimum(np.round(duty / level / ROUND) * ROUND, 1.0)
    span = linear.span
    light = np.where(acting[:, None], 1.0, wanted)
    recent = np.flatnonzero(light.any(axis=1) & (bound.edges[1:] <= KEPT * bound.edges[-1]))
    first = int(recent[-1]) if len(recent) else 0
    ticks = bound.edges[: first + 2]
    begin_s = np.append(0.0, np.cumsum(np.diff(ticks)[::-1]) * period_s)[:-1]
    end_s = float(ticks[-1] * period_s)
    cold_c, hot_c = span.ambient_c
    ambients_c = [hot_c if share > 0.5 else cold_c for share in plan.ambient]
    wind = [span.airflow[1] if windy else span.airflow[0] for windy in plan.windy[first::-1]]
    request = {
        name: _course(begin_s.tolist(), light[first::-1, c].tolist(), end_s)
        for c, name in enumerate(lamp.channels)
    }
    many = len(lamp.ambients) > 1
    ambient: Any = f"{ambients_c[0]:.6g} degC"
    if many:
        ambient = {
            name: f"{at_c:.6g} degC" for name, at_c in zip(lamp.ambients, ambients_c, strict=True)
        }
    return Profile.model_validate({
        "about": "The history that the bound fears, as its programme plans it.",
        "duration": f"{end_s + AFTER_TICKS * period_s:.9g} s",
        "ambient": ambient,
        "airflow": _course(begin_s.tolist(), wind, end_s),
        "request": request,
    })  # fmt: skip


def _course(begin_s: list[float], values: list[float], end_s: float) -> dict[str, Any]:
    """A course of steps without those that change nothing."""
    at = [0.0] + [
        time_s
        for time_s, (before, after) in zip(begin_s[1:], pairwise(values), strict=True)
        if before != after
    ]
    kept = [values[0]] + [after for before, after in pairwise(values) if before != after]
    return {"at": [f"{time_s:.9g} s" for time_s in at], "value": [float(v) for v in kept]}
