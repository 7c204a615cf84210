"""The fewest straight segments through a corridor, with whole-number corners at whole codes.

A dynamic programme over the corners (code, value) that k segments reach: from one corner the
slopes that stay in the corridor form a cone, and at each further code the cone holds an interval
of whole values. The union over all corners of a layer is the next layer, no more and no less;
corners from which the bound of ``straight`` says that the end is out of reach are left out. So a
search over all corners that does not reach the end proves that no such table exists. A search
over some of them, spread evenly, comes first: it finds most tables in a hundredth of the time.
"""

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
SEARCHES = ((6, 12), (24, 48), (96, 192), (384, ALL), (ALL, ALL))
"""Corners searched in a layer: at most so many codes, and values at each; the last: all."""
WORK_LIMIT = 1_500_000_000
"""Cone steps up to which a search is worth its time; they take about a nanosecond each."""


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


def fewest_segments(
    corridor: Corridor, *, least_rise: int = 0, at_most: int | None = None
) -> Placement | None:
    """A line with the fewest segments; None when none is found, or none of ``at_most`` segments.

    ``least_rise`` [counts]: by which every segment must follow the curve's direction.
    """
    ahead, back = reaches(corridor)
    lower_bound = segments = len(ahead) - 1
    last = len(corridor.low) - 1
    while segments <= (last if at_most is None else min(last, at_most)):
        window = _window(ahead, back, segments)
        for codes, values in SEARCHES:
            if _work(corridor, window, codes, values) > WORK_LIMIT:
                break
            layers = _search(corridor, window, codes, values, least_rise)
            if layers is not None:
                return Placement(*_traced(layers), lower_bound)
        else:
            lower_bound += lower_bound == segments
        if segments == len(ahead) and _whole_work(corridor, ahead) <= WORK_LIMIT:
            layers = _search_whole(corridor, ahead, least_rise)
            if layers is None or (at_most is not None and len(layers) - 1 > at_most):
                return None
            return Placement(*_traced(layers), len(layers) - 1)
        segments += 1
    return None


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


def _search_whole(corridor: Corridor, ahead: Whole, least_rise: int) -> list[_Layer] | None:
    """The layers of a search over all corners, each in the first layer that reaches it."""
    low, high, falling = corridor
    last, width = len(low) - 1, int(np.max(high - low)) + 1
    seen = np.zeros((last + 1) * width, bool)
    start = np.arange(low[0], high[0] + 1)
    layers = [_Layer(np.zeros_like(start), start, np.zeros_like(start))]
    while len(layers[-1].at) > 0:
        at, value, _ = layers[-1]
        end = int(ahead[min(len(layers), len(ahead) - 1)])
        found = np.stack(
            _advanced(low, high, falling, at, value, int(at.min()) + 1, end, 1, ALL, least_rise)
        )
        place = found[0] * width + found[1] - low[found[0]]
        found = found[:, ~seen[place]]
        seen[place] = True
        layers.append(_Layer(*found))
        if np.any(layers[-1].at == last):
            return [*layers[:-1], _Layer(*found[:, found[0] == last])]
    return None


def _search(
    corridor: Corridor, window: NDArray[np.int64], codes: int, values: int, least_rise: int
) -> list[_Layer] | None:
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


def _traced(layers: list[_Layer]) -> tuple[Whole, Whole]:
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
