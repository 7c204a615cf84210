"""The simplest history that still is as bad: what a person can read, remember and try on a bench.

One simplification after the other is tried - the nominal unit, no fault, fewer pieces, full or off
instead of levels between, the same for all channels, round times, the hottest ambient - and kept
where what is left is still within a little of what was found, or still passes a limit where that
did. The burden of a history (``burden``) falls with every step, so that it ends.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from derate.limits.history import FULL, OFF, History, Piece
from derate.limits.space import Place, Space
from derate.limits.trials import Finding, Trials

LITTLE_K = 0.3
LITTLE = 0.15
"""What may be lost of a margin: so many kelvin, or so much of an excess."""
AT_ONCE = 4
"""Simplifications that are tried together."""
ROUND_S = (600.0, 300.0, 60.0, 30.0, 10.0, 5.0, 1.0)
"""Round times are whole multiples of these, the roundest first [s]."""
ROUND_K = (5.0, 1.0)
LONG_ENOUGH = 1.02
"""A history is cut so much after its peak, to a round time."""


def shrink(
    trials: Trials, found: Finding, nominal: Place, *, guard_k: float, tries: int
) -> Finding:
    """The simplest finding that is as bad as ``found`` but for a little.

    ``guard_k``: margins below it count as passed [K]; ``tries``: how many histories may be run.
    Ends early, with the simplest so far, when the search is over.
    """
    bar_k = _bar_k(found.margin_k, guard_k)
    best, end = found, trials.kept.histories + tries
    while trials.kept.histories < end and not trials.over():
        burden_now = burden(best.history, best.surroundings, trials.space)
        simpler = [
            (history, place)
            for history, place in _simpler(best, trials.space, nominal)
            if burden(history, place, trials.space) < burden_now
            and history.duration_s <= trials.space.duration_s
        ]
        better = _first(trials, list(dict.fromkeys(simpler)), bar_k, end)
        if better is None:
            break
        best = better
    return best


def burden(history: History, surroundings: Place, space: Space) -> float:
    """How much there is to read and to do: the less the simpler."""
    pieces = history.pieces
    found = 300.0 * (not surroundings.nominal) + 20.0 * _rough_k(surroundings, space)
    found += sum(200.0 + 30.0 * (fault.until_s is not None) for fault in history.faults)
    found += 100.0 * len(pieces) + 0.01 * history.duration_s / space.duration_s
    found += 40.0 * (len({piece.airflow for piece in pieces}) - 1)
    for piece in pieces:
        found += _rough_s(piece.lasts_s) + sum(_rough_request(r) for r in piece.requests)
        found += 3.0 * (len(set(piece.requests)) - 1)
    return found + sum(_rough_s(fault.at_s) for fault in history.faults)


def _bar_k(margin_k: float, guard_k: float) -> float:
    """The margin up to which a finding counts as just as bad [K]."""
    little_k = max(LITTLE_K, LITTLE * max(0.0, guard_k - margin_k))
    bar_k = margin_k + little_k
    return min(bar_k, math.nextafter(guard_k, -math.inf)) if margin_k < guard_k else bar_k


def _first(
    trials: Trials, simpler: Sequence[tuple[History, Place]], bar_k: float, end: int
) -> Finding | None:
    """The first that is still as bad, before ``end`` histories have been run; None without one."""
    for place in dict.fromkeys(where for _, where in simpler):
        histories = [history for history, where in simpler if where is place]
        for begin in range(0, len(histories), AT_ONCE):
            if trials.over() or trials.kept.histories >= end:
                return None
            for one in trials.run("shrunk", histories[begin : begin + AT_ONCE], [place]):
                if one.worst.margin_k <= bar_k:
                    return one.worst
    return None


def _simpler(best: Finding, space: Space, nominal: Place) -> Iterator[tuple[History, Place]]:
    """Simplifications of a finding, those first that take most away."""
    history, place = best.history, best.surroundings
    if not place.nominal:
        yield history, Place(nominal.unit, place.colder_k)
    for colder_k in _rounder_k(place, space):
        yield history, Place(place.unit, colder_k)
    for shorter in _simpler_histories(history, best.peak_at_s, space):
        if shorter.pieces and shorter.duration_s > 0.0:
            yield shorter.joined(), place


def _simpler_histories(history: History, peak_at_s: float, space: Space) -> Iterator[History]:
    pieces = history.pieces
    for i in range(len(history.faults)):
        yield replace(history, faults=history.faults[:i] + history.faults[i + 1 :])
    for i, fault in enumerate(history.faults):
        others = history.faults[:i], history.faults[i + 1 :]
        if fault.until_s is not None:
            yield replace(history, faults=(*others[0], replace(fault, until_s=None), *others[1]))
        for at_s in (0.0, *_rounder_s(fault.at_s)):
            if fault.until_s is None or at_s < fault.until_s:
                moved = replace(fault, at_s=at_s)
                yield replace(history, faults=(*others[0], moved, *others[1]))
    for step_s in ROUND_S:
        end_s = math.ceil(LONG_ENOUGH * peak_at_s / step_s) * step_s
        if space.period_s <= end_s < history.duration_s:
            yield history.until(space.whole(end_s))
    for first in range(len(pieces) - 1):
        yield replace(history, pieces=pieces[first + 1 :])
    for i in range(len(pieces) - 1):
        yield replace(history, pieces=pieces[:i] + pieces[i + 1 :])
    for i in range(1, len(pieces)):
        for kept in pieces[i - 1 : i + 1]:
            merged = replace(kept, lasts_s=round(pieces[i - 1].lasts_s + pieces[i].lasts_s, 9))
            yield replace(history, pieces=(*pieces[: i - 1], merged, *pieces[i + 1 :]))
    for air in space.airflow:
        yield replace(history, pieces=tuple(replace(p, airflow=air) for p in pieces))
    for i, piece in enumerate(pieces):
        for other in _plainer(piece, space):
            yield replace(history, pieces=(*pieces[:i], other, *pieces[i + 1 :]))


def _plainer(piece: Piece, space: Space) -> Iterator[Piece]:
    """A piece with plainer requests or a rounder length."""
    count = len(piece.requests)
    for level in (FULL, OFF):
        yield replace(piece, requests=(level,) * count)
    for i, request in enumerate(piece.requests):
        for level in (FULL, OFF, round(request, 1)):
            changed = (*piece.requests[:i], level, *piece.requests[i + 1 :])
            yield replace(piece, requests=changed)
    for lasts_s in _rounder_s(piece.lasts_s):
        yield replace(piece, lasts_s=space.whole(lasts_s))


def _rounder_s(time_s: float) -> Iterator[float]:
    for step_s in ROUND_S:
        for number in (math.ceil(time_s / step_s), math.floor(time_s / step_s)):
            if number > 0 and 0.5 * time_s <= number * step_s <= 2.0 * time_s:
                yield number * step_s


def _rounder_k(place: Place, space: Space) -> Iterator[float]:
    """How much colder the ambients are, made so that the first is a round temperature [K]."""
    hottest_c = next(iter(space.hottest_c.values()))
    yield 0.0
    for step_k in ROUND_K:
        for number in (math.ceil, math.floor):
            colder_k = hottest_c - number((hottest_c - place.colder_k) / step_k) * step_k
            if 0.0 <= colder_k <= space.span_k:
                yield colder_k


def _rough_s(time_s: float) -> float:
    for rough, step_s in enumerate(ROUND_S):
        if math.isclose(time_s, round(time_s / step_s) * step_s, abs_tol=1e-9):
            return float(rough)
    return float(len(ROUND_S))


def _rough_k(place: Place, space: Space) -> float:
    if place.colder_k == 0.0:
        return 0.0
    ambient_c = next(iter(space.hottest_c.values())) - place.colder_k
    for rough, step_k in enumerate(ROUND_K, start=1):
        if math.isclose(ambient_c, round(ambient_c / step_k) * step_k, abs_tol=1e-9):
            return float(rough)
    return 1.0 + len(ROUND_K)


def _rough_request(request: float) -> float:
    if request == FULL:
        return 0.0
    if request == OFF:
        return 1.0
    return 5.0 if math.isclose(request, round(request, 1)) else 9.0
