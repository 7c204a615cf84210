"""The limit that a policy gives at a reading, as lines that it never lies above.

    limit <= height - slope * reading        for every line; and limit <= 1

The lines are the concave hull of the limit over the readings that can occur, up to ``most_c``.
Where the limit is concave there, as a straight foldback is up to its end, nothing is lost; where it
is a staircase or ends on a floor the hull lies above it, the less so the lower ``most_c`` is.

Hysteresis, hold and release only take light, so that they are left out. Of a PI regulator only the
proportional part counts, as its integral never gives light back; of one that predicts, only what it
takes at the reading itself, since what it thinks a place is warmer than that only takes more. A
policy of somebody's own may do anything below the cut-off.
"""

import itertools
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control import predictive
from derate.lamp import controller
from derate.lamp.lamp import Lamp

Array = NDArray[np.float64]

ROUNDING: Final = 2.0**-14
"""A limit as whole Q15 units may lie so much above [-]."""
FLAT: Final = 1e-9
"""A line that falls by less per kelvin is flat [1/K]."""
HARDLY_K: Final = 1e-6
"""A step falls within so much [K]."""


class Lines(NamedTuple):
    """``height`` [-] and ``slope`` [1/K] of each line (I)."""

    height: Array
    slope: Array


class Law(NamedTuple):
    """Corners of the limit: ``reading_c`` (P), rising [degC], ``limit`` (P) [0..1], not rising;
    steps have two corners at one reading. ``rests_on``: how exact it is, in words; empty where it
    is the policy's own curve."""

    reading_c: Array
    limit: Array
    rests_on: str

    @property
    def stairs(self) -> bool:
        """Whether it has steps besides that of the cut-off."""
        return bool(np.any(np.diff(self.reading_c[:-1]) == 0.0))

    def of_heat(self, duties: Array, shares: Array) -> "Law":
        """The same as a limit of the share of full heat, which duties give at most.

        With a corner wherever the limit is one of these duties.
        """
        at_c, limits = [], []
        corners = zip(self.reading_c.tolist(), self.limit.tolist(), strict=True)
        for (one_c, one), (other_c, other) in itertools.pairwise(corners):
            between = duties[(duties < one) & (duties > other) & (other_c > one_c)][::-1]
            at_c += [one_c, *(one_c + (one - between) / (one - other) * (other_c - one_c))]
            limits += [one, *between]
        at_c.append(float(self.reading_c[-1]))
        limits.append(float(self.limit[-1]))
        return self._replace(reading_c=np.array(at_c), limit=np.interp(limits, duties, shares))

    def shifted(self, by_k: float) -> "Law":
        """The same with all thresholds but the cut-off higher by so much [K]."""
        cut = self.reading_c >= self.reading_c[-1]
        moved = np.where(cut, self.reading_c, np.minimum(self.reading_c + by_k, self.reading_c[-1]))
        return self._replace(reading_c=moved)

    def lines(self, most_c: float) -> Lines:
        """The hull over readings up to ``most_c`` [degC]; no lines where nothing is held back."""
        if most_c <= self.reading_c[0]:
            return Lines(np.empty(0), np.empty(0))
        inside = self.reading_c < most_c
        last = float(np.interp(most_c, self.reading_c, self.limit))
        corners = [*zip(self.reading_c[inside], self.limit[inside], strict=True), (most_c, last)]
        hull: list[tuple[float, float]] = []
        for at_c, limit in corners:
            while len(hull) > 1 and _below(hull[-2], hull[-1], (at_c, limit)):
                hull.pop()
            hull.append((at_c, limit))
        slopes, heights = [], []
        for (one_c, one), (other_c, other) in itertools.pairwise(hull):
            slope = (one - other) / max(other_c - one_c, HARDLY_K)
            if slope > FLAT:
                slopes.append(slope)
                heights.append(one + slope * one_c + ROUNDING)
        return Lines(np.array(heights), np.array(slopes))


def _below(
    one: tuple[float, float], middle: tuple[float, float], other: tuple[float, float]
) -> bool:
    """Whether the middle corner lies on or below the line between the others."""
    across = (other[1] - one[1]) * (middle[0] - one[0]) - (middle[1] - one[1]) * (other[0] - one[0])
    return across >= 0.0


def law_of(lamp: Lamp) -> Law:
    """The law of a lamp's controller; raises InputError where its policy cannot be made."""
    chosen, policy = lamp.controller, lamp.controller.policy
    floor = 0.0 if chosen.stuck is None and chosen.disagreement_k is None else chosen.safe_duty
    cutoff_c = chosen.cutoff_c
    corners: list[tuple[float, float]] = []
    rests_on = ""
    match policy:
        case controller.Foldback():
            corners = [(policy.start_c, 1.0), (policy.end_c, policy.floor)]
        case controller.Steps():
            before = 1.0
            for level in policy.levels:
                corners += [(level.at_c, before), (level.at_c, level.limit)]
                before = level.limit
        case controller.Pi():
            rests_on = "the proportional part of the policy alone"
            if policy.gain_per_k > 0.0:
                falls_k = (1.0 - policy.floor) / policy.gain_per_k
                corners = [(policy.setpoint_c, 1.0), (policy.setpoint_c + falls_k, policy.floor)]
        case controller.Predictive():
            rests_on = "the reading alone, without what the policy predicts above it"
            settings = predictive.settings_of(lamp, policy)
            end_c = min(settings.end_centi_c) / predictive.CENTI
            corners = [(end_c - policy.band_k, 1.0), (end_c, policy.floor)]
        case controller.Custom():
            rests_on = "the cut-off alone, as the policy is a class of your own"
    at_c: list[float] = []
    limits: list[float] = []
    last = 1.0
    for reading_c, limit in corners:
        limit = max(limit, floor)
        if reading_c >= cutoff_c:
            share = 1.0 if not at_c else (cutoff_c - at_c[-1]) / (reading_c - at_c[-1])
            last += (limit - last) * (share if at_c else 0.0)
            break
        at_c.append(reading_c)
        limits.append(limit)
        last = limit
    at_c += [cutoff_c, cutoff_c]
    limits += [last, 0.0]
    return Law(np.array(at_c), np.array(limits), rests_on)
