"""How the channels of a lamp could share a limit that all of them heat: an analysis.

Each way starts from the requests and takes light until every limit holds at rest. Common: the same
share from all, as the controller does by default. Hottest first: from the channel whose junction is
nearest to its limit until that is dark, then from the next. Least important first: the same by the
channels' ``priority``, equal ones together. Colour held: duties that keep the mix at what is asked.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.control.holding import holding_duties
from derate.control.turns import Duties, hottest_first, in_turn, least_first
from derate.plant.palette import Palette, palette_of
from derate.plant.rest import Rest
from derate.study.crossing import crossing
from derate.study.operating import Operating

Array = NDArray[np.float64]

COMMON, HOTTEST, LEAST, HELD = (
    "same share of all", "hottest first", "least important first", "colour held"
)  # fmt: skip
EXACT = 1e-5
"""Shares are found to within this."""
MOST_TURNS = 30
GLIMMER = 1e-6
"""Of the request: what a dark channel is driven with to see what more of it would give."""
STEADY = 1e-6
"""Duties that hold a colour are found again at the temperatures they lead to, until they stay."""


@dataclass(frozen=True)
class Shared:
    """One way: ``duties`` 0..1 by channel, and the lamp at rest with them.

    ``junction``: node of the junction nearest to its limit, at ``junction_c`` [degC] with the
    ripple; ``margin_k`` [K] to the nearest limit of all; ``shift``: delta u'v' [-] of the mix from
    what is asked, nan where colours are not known or all is dark.
    """

    way: str
    duties: dict[str, float]
    light_lm: float
    junction: str
    junction_c: float
    margin_k: float
    shift: float


def sharing(lamp: Operating, ambient_c: float) -> tuple[Shared, ...]:
    """Ways to share the limits at ``ambient_c`` [degC]; empty for a lamp of one lit channel.

    Where the requests hold as they are, all ways agree, and only the held colour is told beside the
    first. Empty too where that is not known, and where even darkness passes a limit.
    """
    requests = np.array([lamp.requests.get(name, 0.0) for name in lamp.lamp.channels])
    rest = lamp.under(requests, ambient_c)
    dark = lamp.under(np.zeros_like(requests), ambient_c)
    if np.count_nonzero(requests) < 2 or lamp.nearest(dark)[0] < 0.0:
        return ()
    palette = palette_of(lamp.resting, lamp.requests)
    ways: list[tuple[str, Duties]] = [(COMMON, lambda share: share * requests)]
    if lamp.nearest(rest)[0] < 0.0:
        left_k = _left_k(lamp, rest, ambient_c, requests)
        ways.append((HOTTEST, in_turn(requests, hottest_first(left_k, requests))))
        if turns := least_first(lamp.lamp, requests):
            ways.append((LEAST, in_turn(requests, turns)))
    if palette is not None:
        ways.append((HELD, _holding(lamp, palette, requests, ambient_c)))
    if len(ways) < 2:
        return ()
    return tuple(_shared(lamp, palette, way, duties, ambient_c) for way, duties in ways)


def _shared(
    lamp: Operating, palette: Palette | None, way: str, duties: Duties, ambient_c: float
) -> Shared:
    """The most of a way at which every limit holds."""

    def margin_k(share: float) -> float:
        return lamp.nearest(lamp.under(duties(share), ambient_c))[0]

    most = 1.0
    if margin_k(1.0) < 0.0:
        found = crossing(margin_k, 0.0, 1.0, exact=EXACT)
        most = found[0] if found else 0.0
    driven = duties(most)
    rest = lamp.under(driven, ambient_c)
    junctions = [int(node) for nodes in lamp.resting.junctions.values() for node in nodes]
    node = lamp.nearest(rest, junctions)[1]
    return Shared(
        way,
        dict(zip(lamp.lamp.channels, driven.tolist(), strict=True)),
        float(rest.light_lm.sum()),
        lamp.names[node],
        float(rest.peak_c[node]),
        lamp.nearest(rest)[0],
        palette.shift(rest) if palette is not None else np.nan,
    )


def _left_k(lamp: Operating, rest: Rest, ambient_c: float, requests: Array) -> Array:
    """How far the hottest junction of each channel (C) is below its limit [K].

    In a runaway there are no temperatures; they are then compared at a half, a quarter, and so on.
    """
    share = 1.0
    while rest.runaway:
        share *= 0.5
        rest = lamp.under(share * requests, ambient_c)
    hot = lamp.hottest(rest)
    return np.array(
        [lamp.limits_c[hot[name]] - rest.peak_c[hot[name]] for name in lamp.lamp.channels]
    )


def _holding(lamp: Operating, palette: Palette, requests: Array, ambient_c: float) -> Duties:
    """Duties against a share of the requests that hold the asked colour at their temperatures."""
    index = [list(lamp.lamp.channels).index(name) for name in palette.names]

    def duties(share: float) -> Array:
        found = share * requests
        for _ in range(MOST_TURNS):
            seen = np.maximum(found, GLIMMER * requests)
            rest = lamp.under(seen, ambient_c)
            if share == 0.0 or rest.runaway:
                break
            per_lumen = np.array(list(palette.per_lumen(rest).values()))
            lm_per_duty = rest.light_lm[index] / seen[index]
            before, found = found, np.zeros_like(requests)
            found[index] = holding_duties(
                per_lumen * lm_per_duty[:, None], palette.asked, share * requests[index]
            )
            if np.abs(found - before).max() <= STEADY * share:
                break
        return found

    return duties
