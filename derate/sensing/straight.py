"""How far straight lines reach in a corridor: a bound on the number of segments of any table.

A run of codes can be read along one straight line only if a line meets all their intervals. With
lines as long as possible, each beginning at the code at which the one before ends and otherwise
free, no broken line with corners at codes takes fewer segments (J. O'Rourke, An on-line algorithm
for fitting straight lines between data ranges, Commun. ACM 24, 574, 1981; recalled).
"""

import numpy as np

from derate.compiled import compiled
from derate.sensing.corridor import Corridor, Whole


def reaches(corridor: Corridor) -> tuple[Whole, Whole]:
    """Farthest code index within 0, 1, 2, ... segments from the first, and back from the last.

    Both have one entry more than the least number of segments that the bound allows.
    """
    ahead = _reaches(corridor.low, corridor.high)
    back = _reaches(corridor.low[::-1].copy(), corridor.high[::-1].copy())
    return ahead, len(corridor.low) - 1 - back


@compiled
def _reaches(low: Whole, high: Whole) -> Whole:
    last = low.shape[0] - 1
    found = np.zeros(low.shape[0], np.int64)
    roof, ground = np.zeros((last + 1, 2), np.int64), np.zeros((last + 1, 2), np.int64)
    count = 0
    while found[count] < last:
        found[count + 1] = _farthest(low, high, found[count], roof, ground)
        count += 1
    return found[: count + 1]


@compiled
def _turn(a: Whole, b: Whole, c: Whole) -> int:
    """Above zero when c lies to the left of (above) the line from a to b."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


@compiled
def _farthest(low: Whole, high: Whole, start: int, roof: Whole, ground: Whole) -> int:
    """Last index that a line meeting every interval from ``start`` on can meet.

    ``roof`` and ``ground`` take the convex hulls of upper and lower ends, in halves of a count.
    ``steep`` and ``flat`` are two points each of the steepest and the flattest line.
    """
    steep, flat = np.empty((2, 2), np.int64), np.empty((2, 2), np.int64)
    top, bottom = np.empty(2, np.int64), np.empty(2, np.int64)
    for i in range(2):
        roof[i, 0], roof[i, 1] = start + i, 2 * high[start + i] + 1
        ground[i, 0], ground[i, 1] = start + i, 2 * low[start + i] - 1
    steep[0], steep[1], flat[0], flat[1] = ground[0], roof[1], roof[0], ground[1]
    roof_from, roof_to, ground_from, ground_to = 0, 2, 0, 2
    for x in range(start + 2, low.shape[0]):
        top[0], top[1], bottom[0], bottom[1] = x, 2 * high[x] + 1, x, 2 * low[x] - 1
        if _turn(flat[0], flat[1], top) < 0 or _turn(steep[0], steep[1], bottom) > 0:
            return x - 1
        tilts_down = _turn(steep[0], steep[1], top) < 0
        tilts_up = _turn(flat[0], flat[1], bottom) > 0
        if tilts_down:
            while ground_from + 1 < ground_to and (
                _turn(ground[ground_from], ground[ground_from + 1], top) < 0
            ):
                ground_from += 1
            steep[0], steep[1] = ground[ground_from], top
            while (
                roof_to >= roof_from + 2 and _turn(roof[roof_to - 2], roof[roof_to - 1], top) <= 0
            ):
                roof_to -= 1
            roof[roof_to] = top
            roof_to += 1
        if tilts_up:
            while roof_from + 1 < roof_to and (
                _turn(roof[roof_from], roof[roof_from + 1], bottom) > 0
            ):
                roof_from += 1
            flat[0], flat[1] = roof[roof_from], bottom
            while ground_to >= ground_from + 2 and (
                _turn(ground[ground_to - 2], ground[ground_to - 1], bottom) >= 0
            ):
                ground_to -= 1
            ground[ground_to] = bottom
            ground_to += 1
    return low.shape[0] - 1
