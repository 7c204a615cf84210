"""How the channels share a limit: a table of each channel's share against the common limit.

    duty_c = request_c s_c(L),      s_c(0) = 0,   s_c(1) = 1,   s_c rises with L

with L the limit that the policy gives. In the same share s_c = L. The other ways have straight
lines between SEGMENTS + 1 points of L, evenly apart, and leave L its meaning: at a limit L they
draw as much power as the same share L of all channels would, so that what a policy was tuned to
stays tuned. The points come from the lamp at rest, at an airflow factor of 1, asked for the
requests of ``controller.sharing``, in its ambient or else in that in which the same share L of them
just holds every limit: there a lamp is that derates so far.

    hottest first           the channel whose junction is nearest to its limit goes dark first
    least important first   the same by ``priority``, equal ones together
    hold colour             duties at whose temperatures the mix is that of the requests at the
                            reference junction temperatures, as bright as the power allows

At L = 1 nothing is held back, so no colour is held either. A channel may be given more than L, and
its junction then rises further above the reading than with the same share; under a sensor fault
all have the same share.
"""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.lamp.lamp import Lamp

if TYPE_CHECKING:
    from derate.control.turns import Duties, Turns
    from derate.plant.rest import Rest, Resting

Array = NDArray[np.float64]

SEGMENT_BITS = 11
SEGMENTS = ONE_Q15 >> SEGMENT_BITS
LIMITS_Q15 = range(0, ONE_Q15 + 1, 1 << SEGMENT_BITS)
"""Limits of the points."""
COLDEST_C = -60.0
"""Where even this is too warm for a share, its temperatures there are taken."""
NEAR_K = 0.01
"""Ambients are found to within this."""
NO_REST_K = -1e4
"""Stands for the margin of a lamp that has no rest."""
EXACT = 1e-6
"""Shares of turns are found to within this."""
GLIMMER = 1e-6
"""Of the request: what a dark channel is driven with to see what more of it would give."""
STEADY, MOST_TURNS = 1e-5, 30
"""Duties that hold a colour are found again at their own temperatures until they move by less."""


class Shares(NamedTuple):
    """``knots_q15`` (C, SEGMENTS + 1): shares at evenly spaced limits; ``ambient_c``: in which the
    lamp was asked, at the largest and the least of those limits [degC]."""

    knots_q15: tuple[tuple[int, ...], ...]
    ambient_c: tuple[float, float]


_KEPT: dict[str, Shares] = {}
MOST_KEPT = 4
"""Tables remembered, by all that they depend on: settings of a policy change more often."""


@register_jitable
def share_q15(knots_q15: tuple[int, ...], limit_q15: int) -> int:
    """The share of a channel at a limit, both Q15, as the C computes it."""
    at, past = limit_q15 >> SEGMENT_BITS, limit_q15 & ((1 << SEGMENT_BITS) - 1)
    low = knots_q15[at]
    return low + ((knots_q15[at + 1] - low) * past >> SEGMENT_BITS) if past else low


def shared_duties(shares: Shares | None, limit: float, requests: Array) -> Array:
    """Duties (C) [0..1] of ``requests`` (C) [0..1] at a limit [0..1]."""
    if shares is None:
        return limit * requests
    at = np.linspace(0.0, 1.0, SEGMENTS + 1)
    return requests * [np.interp(limit, at, knots) / ONE_Q15 for knots in shares.knots_q15]


def shares_of(lamp: Lamp) -> Shares | None:
    """The table of a lamp; None where all channels have the same share."""
    if lamp.controller.sharing.way == "same share":
        return None
    sharing = lamp.controller.sharing.model_dump_json()
    exclude = {"profiles", "tolerances", "timing", "controller"}
    depends_on = lamp.model_dump_json(exclude=exclude) + sharing
    if depends_on not in _KEPT:
        found = _shares(lamp)
        while len(_KEPT) >= MOST_KEPT:
            del _KEPT[next(iter(_KEPT))]
        _KEPT[depends_on] = found
    return _KEPT[depends_on]


def _shares(lamp: Lamp) -> Shares:
    from derate.plant.rest import resting

    ready, chosen = resting(lamp), lamp.controller.sharing
    requests = np.array([chosen.request.get(name, 1.0) for name in lamp.channels])
    limits = np.linspace(0.0, 1.0, SEGMENTS + 1)
    lit = requests > 0.0
    shares = np.tile(limits, (len(requests), 1))
    ambients_c = [
        _just_held_c(ready, limit * requests) if chosen.ambient_c is None else chosen.ambient_c
        for limit in limits[1:]
    ]
    turns = _turns(ready, requests, ambients_c[-1])
    for at, limit in enumerate(limits[1:-1], start=1):
        if turns is None:
            duties = _holding(ready, requests, limit, ambients_c[at - 1])
        else:
            duties = _in_turn(ready, requests, turns, limit, ambients_c[at - 1])
        shares[lit, at] = duties[lit] / requests[lit]
    shares = np.minimum.accumulate(shares[:, ::-1], axis=1)[:, ::-1]
    knots = np.floor(np.clip(shares, 0.0, 1.0) * ONE_Q15).astype(int)
    return Shares(tuple(map(tuple, knots.tolist())), (ambients_c[-1], ambients_c[0]))


def _rest(lamp: "Resting", duties: Array, ambient_c: float) -> "Rest":
    return lamp.rest(duties, np.full(len(lamp.lamp.ambients), ambient_c))


def _just_held_c(lamp: "Resting", duties: Array) -> float:
    """The ambient [degC] in which these duties just hold every limit."""
    from scipy.optimize import brentq

    def margin_k(ambient_c: float) -> float:
        rest = _rest(lamp, duties, ambient_c)
        return NO_REST_K if rest.runaway else float(np.nanmin(lamp.limits_c - rest.peak_c))

    hottest_c = float(np.nanmin(lamp.limits_c))
    if margin_k(COLDEST_C) <= 0.0 or margin_k(hottest_c) >= 0.0:
        return COLDEST_C if margin_k(COLDEST_C) <= 0.0 else hottest_c
    return float(brentq(margin_k, COLDEST_C, hottest_c, xtol=NEAR_K))


def _turns(lamp: "Resting", requests: Array, ambient_c: float) -> "Turns | None":
    """Who gives light before whom; None where a colour is held."""
    from derate.control.turns import hottest_first, least_first

    match lamp.lamp.controller.sharing.way:
        case "hottest first":
            rest = _rest(lamp, requests, ambient_c)
            left_k = lamp.limits_c - rest.peak_c
            return hottest_first(
                np.array([left_k[nodes].min() for nodes in lamp.junctions.values()]), requests
            )
        case "least important first":
            return least_first(lamp.lamp, requests)
    return None


def _power_w(lamp: "Resting", duties: Array, ambient_c: float) -> "tuple[Rest, float]":
    rest = _rest(lamp, duties, ambient_c)
    return rest, float(rest.supply_w.sum())


def _in_turn(
    lamp: "Resting", requests: Array, turns: "Turns", limit: float, ambient_c: float
) -> Array:
    """Duties (C) that give up light by turns, at the power of the same share ``limit``."""
    from scipy.optimize import brentq

    from derate.control.turns import in_turn

    duties: Duties = in_turn(requests, turns)
    rest, power_w = _power_w(lamp, limit * requests, ambient_c)
    if rest.runaway:
        return limit * requests
    lit = requests > 0.0
    full_w = np.where(lit, rest.supply_w / np.where(lit, limit * requests, 1.0), 0.0)
    share = brentq(lambda share: float(full_w @ duties(share)) - power_w, 0.0, 1.0, xtol=EXACT)
    return duties(share)


def _holding(lamp: "Resting", requests: Array, limit: float, ambient_c: float) -> Array:
    """Duties (C) that hold the colour of the requests, at most at the power of ``limit`` of all."""
    from derate.control.holding import holding_duties
    from derate.plant.palette import Palette

    names = list(lamp.lamp.channels)
    palette = Palette(lamp, dict(zip(names, requests.tolist(), strict=True)))
    index = [names.index(name) for name in palette.names]
    found = limit * requests
    power_w = _power_w(lamp, found, ambient_c)[1]
    for _ in range(MOST_TURNS):
        seen = np.maximum(found, GLIMMER * requests)
        rest = _rest(lamp, seen, ambient_c)
        if rest.runaway:
            break
        per_lumen = np.array(list(palette.per_lumen(rest).values()))
        lm_per_duty = (rest.light_lm[index] / seen[index])[:, None]
        before, found = found, np.zeros_like(requests)
        found[index] = holding_duties(per_lumen * lm_per_duty, palette.asked, requests[index])
        if not found.any():
            return before
        drawn_w = float((rest.supply_w[index] / seen[index]) @ found[index])
        found *= min(1.0, power_w / drawn_w)
        if np.abs(found - before).max() <= STEADY:
            break
    return found
