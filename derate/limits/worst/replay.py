"""A history that a bound fears, driven through the lamp on the timeline."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from derate.lamp.course import ShareCourse
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.worst.bound import Bound
from derate.limits.worst.law import Law
from derate.limits.worst.linear import Linear
from derate.limits.worst.plan import history_of
from derate.loop.body import body_for
from derate.loop.run import trace_of
from derate.loop.timeline import Timeline
from derate.loop.trace import Trace
from derate.sensing.chain import chains_of

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Replay:
    """What a history does to a lamp: its trace, the place's temperatures at its rows and its peak
    [degC], and when that is [s]; ``steady_c``: at the end of full light for a long time."""

    history: Profile
    trace: Trace
    place_c: Array
    peak_c: float
    peak_at_s: float
    steady_c: float


def replayed(
    lamp: Lamp, bound: Bound, law: Law, linear: Linear, stop: Callable[[], bool]
) -> Replay:
    """The plan of a bound, or full light all along, replayed: what gets the place hotter.

    Between two steps of a staircase the plan wants light that no limit gives, but that a request
    of so much of a limit does.
    """
    plan = history_of(lamp, bound, linear)
    asked = [plan, _full(plan)]
    duty = np.interp(bound.prices.light[0].max(), linear.shares, linear.duties)
    above = law.limit[law.limit >= duty]
    if law.stairs and len(above):
        asked.append(history_of(lamp, bound, linear, float(above.min())))
    found = [_driven(lamp, history, bound.node, stop) for history in asked]
    hottest = max(found, key=lambda one: one.peak_c)
    return replace(hottest, steady_c=float(found[1].place_c[-1]))


def _full(plan: Profile) -> Profile:
    """The same air with all light asked for from the begin."""
    full = ShareCourse.model_validate(1.0)
    return plan.model_copy(update={"request": dict.fromkeys(plan.request, full)})


def _driven(lamp: Lamp, history: Profile, node: int, stop: Callable[[], bool]) -> Replay:
    chains = chains_of(lamp)
    timeline = Timeline(lamp, history, body_for(lamp, chains), chains, stop=stop)
    recording = timeline.run()
    tally = recording.plant.tally
    return Replay(
        history,
        trace_of(lamp, recording),
        np.asarray(recording.rows["node_c"][:, node], float),
        float(tally.peak_c[node]),
        float(tally.peak_at_s[node]),
        np.nan,
    )
