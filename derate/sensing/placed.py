"""The fewest straight segments through a corridor, with whole-number corners at whole codes.

A dynamic programme over the corners (code, value) that k segments reach: from one corner the
slopes that stay in the corridor form a cone, and at each further code the cone holds an interval
of whole values. The union over all corners of a layer is the next layer, no more and no less;
corners from which the bound of ``straight`` says that the end is out of reach are left out. So a
search over all corners that does not reach the end proves that no such table exists. Searches
over some of the corners, spread evenly, come first: they find most tables in a hundredth of the
time, and where they need no more segments than the bound, nothing is left to prove. The proof is
given up where it would take seconds; the bound then stays below the number found.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled
from derate.sensing.corridor import (
    STEEP,
    Cone,
    Corridor,
    Whole,
    is_empty,
    narrowed,
    whole_rises,
)
from derate.sensing.straight import reaches

ALL = 1 << 30
COARSE = ((6, 12), (24, 48))
"""Corners searched first in a layer: at most so many codes, and values at each."""
DENSE = ((96, 192), (384, ALL), (ALL, ALL))
"""Corners searched while there is work left for it; the last: all."""
QUICK_WORK = 30_000_000
WORK_LIMIT = 1_200_000_000
"""Cone steps, a few nanoseconds each: for a first line, and for the proof that none is shorter."""
LEAST_CHOICE = 4
"""Codes per segment, on average, that a thinned search must leave."""


class Placement(NamedTuple):
    """Corners of a line in a corridor; ``lower_bound``: no line has fewer segments than this."""

    at: Whole
    value: Whole
    lower_bound: int


class _Layer(NamedTuple):
    """Corners that k segments reach: code index, value, and the corner before (its row)."""

    at: Whole
    value: Whole
    before: Whole


_Layers = list[_Layer]


def fewest_segments(
    corridor: Corridor,
    *,
    least_rise: int = 0,
    at_most: int | None = None,
    work_limit: float | None = None,
) -> Placement | None:
    """A line with the fewest segments; None when none is found, or none of ``at_most`` segments.

    ``least_rise`` [counts]: by which every segment must follow the curve's direction.
    ``work_limit`` [cone steps]: less than WORK_LIMIT for a quicker answer with a weaker bound.
    """
    reach = reaches(corridor)
    bound = len(reach[0]) - 1
    if at_most is not None and bound > at_most:
        return None
    layers = _quick(corridor, reach, least_rise)
    if layers is None or len(layers) - 1 > bound:
        left = WORK_LIMIT if work_limit is None else work_limit
        layers, bound = _proved(corridor, reach, least_rise, layers, left)
    if layers is None or (at_most is not None and len(layers) - 1 > at_most):
        return None
    return Placement(*_traced(layers), bound)


def _quick(corridor: Corridor, reach: tuple[Whole, Whole], least_rise: int) -> _Layers | None:
    """A short line: by coarse searches, and where these fall behind by one over fewer codes."""
    bound, last = len(reach[0]) - 1, len(corridor.low) - 1
    enough = bound + 1 + bound // 16
    found = _coarse(corridor, reach, range(bound, enough + 1), least_rise)
    stride = math.ceil(_whole_work(corridor, reach[0]) / QUICK_WORK)
    if LEAST_CHOICE * stride * bound <= last or stride == 1:
        while found is None and stride > 0:
            found = _search_whole(corridor, reach[0], least_rise, stride)
            stride //= 2
    return found or _coarse(corridor, reach, range(enough + 1, last + 1), least_rise)


def _coarse(
    corridor: Corridor, reach: tuple[Whole, Whole], numbers: range, least_rise: int
) -> _Layers | None:
    for segments in numbers:
        for codes, values in COARSE:
            window = _window(*reach, segments)
            layers = _search(corridor, window, codes, values, least_rise)
            if layers is not None:
                return layers
    return None


def _proved(
    corridor: Corridor,
    reach: tuple[Whole, Whole],
    least_rise: int,
    best: _Layers | None,
    left: float,
) -> tuple[_Layers | None, int]:
    """The shortest line, with its number of segments as the bound as far as the work suffices."""
    bound = len(reach[0]) - 1
    size = len(best) - 1 if best else bound
    for segments in range(bound, min(bound + 2, size)):
        window = _window(*reach, segments)
        for codes, values in DENSE:
            work = _work(corridor, window, codes, values)
            if work > left:
                break
            left -= work
            layers = _search(corridor, window, codes, values, least_rise)
            if layers is not None:
                best, size = layers, segments
                break
        else:
            bound += bound == segments
        if size == bound:
            return best, bound
    if _whole_work(corridor, reach[0]) <= left:
        best = _search_whole(corridor, reach[0], least_rise)
        bound = len(best) - 1 if best else bound
    return best, bound


def _window(ahead: Whole, back: Whole, segments: int) -> NDArray[np.int64]:
    """First and last code index of corner 0, 1, .. ``segments``."""
    corners = np.arange(segments + 1)
    last = ahead[-1]
    farthest = ahead[np.minimum(corners, len(ahead) - 1)]
    nearest = back[np.minimum(segments - corners, len(back) - 1)]
    first, end = np.maximum(nearest, corners), np.minimum(farthest, last - segments + corners)
    return np.stack([first, end], axis=1)


def _work(corridor: Corridor, window: NDArray[np.int64], codes: int, values: int) -> float:
    """Cone steps that a search over so many codes and values of each layer may take."""
    width = np.minimum(np.max(corridor.high - corridor.low) + 1, values)
    starts = np.minimum(window[:-1, 1] - window[:-1, 0] + 1, codes)
    length = window[1:, 1] - window[:-1].mean(axis=1)
    return float(np.sum(starts * width * length))


def _whole_work(corridor: Corridor, ahead: Whole) -> float:
    """Cone steps that ``_search_whole`` may take: corners times the length of a segment there."""
    values = np.concatenate([[0], np.cumsum(corridor.high - corridor.low + 1)])
    return float(np.sum(np.diff(values[ahead]) * np.diff(ahead)))


def _search_whole(
    corridor: Corridor, ahead: Whole, least_rise: int, stride: int = 1
) -> _Layers | None:
    """The layers of a search over all corners, each in the first layer that reaches it.

    ``stride``: only corners at every so many codes, counted from the last.
    """
    low, high, falling = corridor
    last, width = len(low) - 1, int(np.max(high - low)) + 1
    seen = np.zeros((last + 1) * width, bool)
    start = np.arange(low[0], high[0] + 1)
    layers = [_Layer(np.zeros_like(start), start, np.zeros_like(start))]
    while len(layers[-1].at) > 0:
        at, value, _ = layers[-1]
        first, end = int(at.min()) + 1, int(ahead[min(len(layers), len(ahead) - 1)])
        end -= (end - last) % stride
        if end < first:
            return None
        step = _advanced(low, high, falling, at, value, first, end, stride, ALL, least_rise)
        found = np.stack(step)
        place = found[0] * width + found[1] - low[found[0]]
        found = found[:, ~seen[place]]
        seen[place] = True
        layers.append(_Layer(*found))
        if np.any(layers[-1].at == last):
            return [*layers[:-1], _Layer(*found[:, found[0] == last])]
    return None


def _search(
    corridor: Corridor, window: NDArray[np.int64], codes: int, values: int, least_rise: int
) -> _Layers | None:
    """The layers of a search up to the last corner, None where it ends before."""
    low, high, falling = corridor
    start = np.arange(low[0], high[0] + 1)[:: _stride(int(high[0] - low[0]) + 1, values)]
    layers = [_Layer(np.zeros_like(start), start, np.zeros_like(start))]
    for first, end in window[1:]:
        stride = _stride(int(end - first) + 1, codes)
        before = layers[-1]
        found = _advanced(
            low, high, falling, before.at, before.value, int(first), int(end), stride, values,
            least_rise,
        )  # fmt: skip
        layers.append(_Layer(*found))
        if len(layers[-1].at) == 0:
            return None
    return layers


def _stride(count: int, at_most: int) -> int:
    return -(-count // at_most)


def _traced(layers: _Layers) -> tuple[Whole, Whole]:
    """Corners from first to last, through the middle of the values that reach the end."""
    row = len(layers[-1].at) // 2
    at, value = [], []
    for layer in reversed(layers):
        at.append(int(layer.at[row]))
        value.append(int(layer.value[row]))
        row = int(layer.before[row])
    return np.array(at[::-1]), np.array(value[::-1])


@compiled
def _advanced(
    low: Whole,
    high: Whole,
    falling: bool,
    at: Whole,
    value: Whole,
    first: int,
    end: int,
    stride: int,
    most_values: int,
    least_rise: int,
) -> tuple[Whole, Whole, Whole]:
    """The corners one segment further, at codes ``end``, ``end`` - ``stride``, .. >= ``first``.

    ``tops`` keeps for each code and lower end of an interval the highest upper end seen.
    """
    rows, width = (end - first) // stride + 1, 1
    for j in range(rows):
        width = max(width, high[end - j * stride] - low[end - j * stride] + 1)
    tops = np.full((rows, width), -1, np.int32)
    origin = np.zeros((rows, width), np.int32)
    for i in range(at.shape[0]):
        cone = Cone(-STEEP, 1, STEEP, 1)
        for k in range(at[i] + 1, end + 1):
            run = k - at[i]
            cone = narrowed(cone, run, low[k] - value[i], high[k] - value[i])
            if is_empty(cone):
                break
            if k >= first and (end - k) % stride == 0:
                least, most = whole_rises(cone, run, falling, least_rise)
                if least <= most:
                    j, bottom = (end - k) // stride, value[i] + least - low[k]
                    if value[i] + most - low[k] > tops[j, bottom]:
                        tops[j, bottom] = value[i] + most - low[k]
                        origin[j, bottom] = i
    return _united(low, end, stride, tops, origin, most_values)


@compiled
def _united(
    low: Whole,
    end: int,
    stride: int,
    tops: NDArray[np.int32],
    origin: NDArray[np.int32],
    most_values: int,
) -> tuple[Whole, Whole, Whole]:
    """The whole numbers in the union of the intervals at each code, thinned to ``most_values``."""
    rows, width = tops.shape
    count = np.zeros(rows, np.int64)
    for j in range(rows):
        top = -1
        for v in range(width):
            top = max(top, tops[j, v])
            count[j] += v <= top
    kept = 0
    for j in range(rows):
        thin = max(1, -(-count[j] // most_values))
        kept += -(-count[j] // thin)
    at, value = np.empty(kept, np.int64), np.empty(kept, np.int64)
    before = np.empty(kept, np.int64)
    n = 0
    for j in range(rows):
        thin = max(1, -(-count[j] // most_values))
        top, source, seen = -1, 0, 0
        for v in range(width):
            if tops[j, v] > top:
                top, source = tops[j, v], origin[j, v]
            if v <= top:
                if seen % thin == 0:
                    at[n], value[n], before[n] = end - j * stride, low[end - j * stride] + v, source
                    n += 1
                seen += 1
    return at, value, before
