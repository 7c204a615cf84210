"""The possible: the most light any controller could get out of a lamp in a profile.

A controller that knows the future, and everything about the lamp, still has to keep every node
inside its limit. What it could deliver at most is bounded here from above (``certificate``), for
any history of duties whatever, and from below by a plan that the plant itself has gone through
(``programme``). The difference between the two is how loose the bound is.

- The bound is weak duality, with the duals of a linear programme as prices. It approximates neither
  time nor emitters; any controller that holds the limits gives less. One that passes a limit may
  give more.
- Junctions may be as hot as their limit in the mean of a PWM period; that the crest of its ripple
  counts too makes the possible smaller, and is left out of the bound.
- Duties go up to the request of the last moments, however late a controller gets to know it.
- Where the airflow moves along a line, the largest of every slot counts, which is more cooling than
  there is as long as the lamp is warmer than its ambient.
- The faces of a board shed by their mean temperatures, in bound and plan alike.
- The plan keeps its duties over each slot, those between two steps of the driver being the mean of
  changing between them; its temperatures, ripple included, hold every limit.

Weak duality of linear programmes, and the maximum principle of which the prices are the adjoint:
Boyd & Vandenberghe, Convex Optimization (2004), section 5.1.3.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.read import profile_of
from derate.loop.merit import SECONDS_PER_HOUR, share_of
from derate.study.case import Case, History, case_of, simulated
from derate.study.certificate import ALLOWED, bound_lm_s
from derate.study.programme import Programme
from derate.study.worth import Worth

if TYPE_CHECKING:
    from derate.loop.run import Result

Array = NDArray[np.float64]

PARTS: Final = 64
"""A slot is at most so long a part of the profile."""
CLOSE: Final = 0.02
"""A bound looser than this is looked for again [-],"""
FINER: Final = 3
"""with slots so much shorter,"""
FEW_SLOTS: Final = 150
"""unless there are more than so many already."""
MOST_ROUNDS: Final = 6
"""Of making the plan hold: each lowers the limits of slots in which it did not."""
SPARE_K: Final = 0.01
"""A plan stays below a limit that it once passed by this more [K]."""
DIMMED: Final = 0.998
"""Where rounds do not help the whole plan is dimmed by this factor, again and again [-]."""
MOST_DIMMED: Final = 1000


@dataclass(frozen=True, eq=False)
class Possible:
    """What no controller can surpass, and a plan that comes close; S slots, C channels, N nodes.

    ``light_lm_s``: the bound [lm s], nan where no controller can hold the limits (``unheld`` then
    says why). ``edge_s`` (S + 1) [s]; of the plan ``duty`` (S, C) [0..1], ``plan_lm_s`` (C) light,
    ``plan_lm`` (S) mean luminous flux, ``node_c`` (S + 1, N) temperatures at the edges [degC] of
    ``node_names``; ``channels``: their names; ``of``: those whose light counts in the bound and in
    ``plan_lm``.
    """

    channels: tuple[str, ...]
    of: tuple[str, ...]
    node_names: tuple[str, ...]
    light_lm_s: float
    edge_s: Array
    duty: Array
    plan_lm_s: Array
    plan_lm: Array
    node_c: Array
    unheld: str | None = None

    @property
    def light_lm_h(self) -> float:
        """The bound [lm h]."""
        return self.light_lm_s / SECONDS_PER_HOUR

    @property
    def looseness(self) -> float:
        """Share of the bound by which it lies above the plan [-]: it is no looser than this."""
        counted = [name in self.of for name in self.channels]
        return 1.0 - share_of(float(self.plan_lm_s[counted].sum()), self.light_lm_s)

    def share_of(self, run: "Result") -> float:
        """Light that a run delivered over the bound [-]; above 1 only where it passed a limit."""
        delivered = sum(run.merit.channels[name].light_lm_h for name in self.of)
        return share_of(delivered, self.light_lm_h)


def possible(
    lamp: Lamp,
    profile: str | Path | Profile | None = None,
    *,
    of: Collection[str] | None = None,
) -> Possible:
    """The most light that any controller could get out of ``lamp`` in a profile.

    ``profile``: as for ``derate.run``; ``of``: the channels whose light counts, all by default; the
    others may then be dark. Raises InputError for an impossible lamp, for a channel that it does
    not have, and for a profile that jumps too often.
    """
    for name in of or ():
        if name not in lamp.channels:
            due = f"one of its channels, {', '.join(lamp.channels)}"
            raise InputError(f"{lamp.source or lamp.name}: the possible: found {name}, due {due}")
    if not isinstance(profile, Profile):
        _, profile = profile_of(lamp, profile)
    found = _possible(lamp, profile, PARTS, of)
    slots = len(found.plan_lm)
    if found.looseness > CLOSE and slots < FEW_SLOTS:
        finer = _possible(lamp, profile, FINER * PARTS, of)
        return replace(finer, light_lm_s=min(found.light_lm_s, finer.light_lm_s))
    return found


def _possible(lamp: Lamp, profile: Profile, parts: int, of: Collection[str] | None) -> Possible:
    """The possible as slots of at most one of ``parts`` of the profile show it."""
    case = case_of(lamp, profile, parts, of)
    unheld = _unheld(case)
    if unheld is not None:
        return _told(lamp, case, np.nan, case.horizon.least, case.dark, unheld)
    programme = Programme(case)
    below_k = np.zeros(case.low_c.shape)
    bound = _bound(case, Worth(case.horizon.least, below_k, below_k))
    wide = programme.solve(below_k, edges=False)
    if wide is not None:
        bound = min(bound, _bound(case, wide))
    duty, plan = case.horizon.least, case.dark
    for _ in range(MOST_ROUNDS):
        solved = programme.solve(below_k)
        if solved is None:
            break
        guesses = (solved, solved.spread()) if solved.edge[:-1].any() else (solved,)
        bound = min(bound, *(_bound(case, one) for one in guesses))
        duty = np.maximum(solved.duty, case.horizon.least)
        plan = simulated(case.plant, case.horizon, duty, calm=True)
        over_k = _over_k(case, plan)
        if not (over_k > 0.0).any():
            break
        below_k = np.where(over_k > 0.0, below_k + over_k + SPARE_K, below_k)
    for _ in range(MOST_DIMMED):
        if not (_over_k(case, plan) > 0.0).any():
            break
        duty = np.maximum(DIMMED * duty, case.horizon.least)
        plan = simulated(case.plant, case.horizon, duty, calm=True)
    return _told(lamp, case, bound, duty, plan, None)


def _bound(case: Case, worth: Worth) -> float:
    """The bound that some worth gives [lm s], with what its sums may miss."""
    return (1.0 + ALLOWED) * bound_lm_s(case, worth)


def _over_k(case: Case, history: History) -> Array:
    """By how much nodes that matter pass their limits in every slot (S, Y) [K]."""
    return history.high_c[:, case.node] - case.limit_c


def _unheld(case: Case) -> str | None:
    """A sentence about a limit that is passed however dark the lamp is kept."""
    over_k = _over_k(case, case.dark)
    slots, nodes = np.nonzero(over_k > 0.0)
    if len(slots) == 0:
        return None
    k, y = slots[0], nodes[0]
    name = case.plant.node_names[case.node[y]]
    peak_c = case.dark.high_c[k, case.node[y]]
    return (
        f"no controller can hold the limits: {name} reaches {peak_c:.1f} degC after"
        f" {case.horizon.edge_s[k]:.4g} s with the lamp as dark as the profile allows, above its"
        f" limit of {case.limit_c[y]:.4g} degC"
    )


def _told(
    lamp: Lamp, case: Case, bound: float, duty: Array, plan: History, unheld: str | None
) -> Possible:
    return Possible(
        channels=tuple(lamp.channels),
        of=tuple(name for name, one in zip(lamp.channels, case.counts, strict=True) if one),
        node_names=tuple(case.plant.node_names),
        light_lm_s=bound,
        edge_s=case.horizon.edge_s,
        duty=duty,
        plan_lm_s=plan.light_lm_s.sum(axis=0),
        plan_lm=plan.light_lm_s @ case.counts / case.horizon.length_s,
        node_c=plan.node_c,
        unheld=unheld,
    )
