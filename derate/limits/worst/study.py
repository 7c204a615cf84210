"""The worst that any history of requests can do to a lamp: bounds, and the history that nears them.

For the lamp as it is described and for the units at the corners of its tolerances that a bound is
most afraid of: a bound on every limited place, the history of the one nearest to its limit,
replayed on the timeline, and the shift of all thresholds that brings the bound to the limit.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

import derate
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.limits.rising import not_rising
from derate.limits.worst.bound import Bound, Watched, bound_of, watched, with_prices
from derate.limits.worst.corner import corner_for
from derate.limits.worst.law import Law, law_of
from derate.limits.worst.linear import Linear, linear_of
from derate.limits.worst.replay import Replay, replayed
from derate.limits.worst.span import Span
from derate.plant.network import element_of

if TYPE_CHECKING:
    from derate.plant.board.lumped import LumpedBoard

Doing = Callable[[str], None]

JUNCTION: Final = "junction."
"""Before the name of a channel: its hottest junction."""
CUTOUT: Final = "cutout."
"""Before the name of a cut-out: its element, which must stay below its least trip temperature."""
ROOM_K: Final = 40.0
"""At first nothing is taken to be hotter than the highest limit and so much more [K]."""
TIGHT_K: Final = 2.0
"""Then than what was found and so much more [K]."""
HOTTEST_C: Final = 600.0
"""Beyond this there is no bound."""
CLOSE_K: Final = 0.05
"""The shift of thresholds is found to within this."""
WIDEST_K: Final = 60.0
"""And looked for no further than this."""
MOST_TRIES: Final = 8
"""Shifts that are tried."""
GUESS_K: Final = 3.0
"""The hottest reading is guessed to move by no more than the thresholds and this [K]."""
NEAREST: Final = 2
"""Places that a shift is held against."""


@dataclass(frozen=True, eq=False)
class PlaceBound:
    """A limited place: its bound and its limit, crest of the ripple included [degC]; what full
    light for ever would make of it, ``open_c``, or more; the ``bound`` itself; and of the places
    nearest to their limits what came of the history that it fears."""

    name: str
    limit_c: float
    bound_c: float
    open_c: float
    bound: Bound
    replay: Replay | None = None

    @property
    def margin_k(self) -> float:
        """Limit less bound [K]."""
        return self.limit_c - self.bound_c

    @property
    def gap_k(self) -> float | None:
        """Bound less replay [K]: no history gets nearer to the bound than this, or it is loose."""
        return None if self.replay is None else self.bound_c - self.replay.peak_c


@dataclass(frozen=True, eq=False)
class UnitBounds:
    """The bounds of one unit: ``name``, which parts were ``moved`` to where, its places by
    margin."""

    name: str
    moved: dict[str, float]
    places: tuple[PlaceBound, ...]
    watched: Watched


@dataclass(frozen=True, eq=False)
class Worst:
    """What ``derate worst`` tells: the units, worst first; ``shift_k``: of all thresholds that
    brings the worst bound to its limit, None where none within reach does."""

    lamp: Lamp
    span: Span
    law: Law
    units: tuple[UnitBounds, ...]
    shift_k: float | None
    notes: tuple[str, ...]
    source: dict[str, str | None]

    @property
    def holds(self) -> bool:
        """Whether no history brings any place of these units over its limit."""
        return all(unit.places[0].margin_k >= 0.0 for unit in self.units)


def worst(
    lamp: Lamp,
    span: Span,
    *,
    corners: bool = True,
    doing: Doing = lambda what: None,
    stop: Callable[[], bool] = lambda: False,
) -> Worst:
    """Bound every limited place of a lamp over all histories of requests.

    ``corners``: also of the units at the corners of its tolerances. Raises InputError for a lamp
    whose controller cannot be made, and KeyboardInterrupt when ``stop`` says so.
    """
    law = law_of(lamp)
    doing("the lamp as described")
    found = made_ready(lamp, lamp, span, law)
    units = [_unit("as described", _reading_cold(found), {}, found, law, stop)]
    for number, place in enumerate(_distinct(units[0].places) if corners else ()):
        _asked(stop)
        doing(f"the corner of {place.name}")
        corner = corner_for(found, place.bound)
        if corner.moved and all(one.moved != corner.moved for one in units):
            bounds = made_ready(lamp, corner.lamp, span, law, found.linear.board)
            name = f"corner{f' {number + 1}' if number else ''}"
            units.append(_unit(name, corner.lamp, corner.moved, bounds, law, stop))
    units.sort(key=lambda one: one.places[0].margin_k)
    doing("the thresholds")
    shift_k = _shift_k(units[0], law, stop)
    return Worst(
        lamp, span, law, tuple(units), shift_k, _notes(lamp, law, units[0].watched),
        {
            "version": derate.__version__,
            "lamp_file": lamp.source.name if lamp.source else None,
            "lamp_sha256": lamp.sha256,
        },
    )  # fmt: skip


def _reading_cold(found: Watched) -> Lamp:
    """The lamp as described, but that its sensors read as cold as their parts allow."""
    node = _heated(found.linear)[0]
    return corner_for(found, bound_of(found, node, (1.0,)), of_reading=True).lamp


def _asked(stop: Callable[[], bool]) -> None:
    if stop():
        raise KeyboardInterrupt


def _distinct(places: tuple[PlaceBound, ...]) -> tuple[PlaceBound, ...]:
    """The places that are looked at closer: the nearest to its limit of each kind."""
    junctions = [place for place in places if place.name.startswith(JUNCTION)]
    others = [place for place in places if not place.name.startswith(JUNCTION)]
    return tuple(sorted((*junctions[:1], *others[:1]), key=lambda one: one.margin_k))


def made_ready(
    lamp: Lamp, unit: Lamp, span: Span, law: Law, board: "LumpedBoard | None" = None
) -> Watched:
    """A unit with the firmware of ``lamp``, made ready for temperatures that nothing passes."""
    channels = [channel.junction_limit_c for channel in lamp.channels.values()]
    places = [place.limit_c for place in limited_places(lamp)]
    cap_c = max(*channels, *places, span.ambient_c[1]) + ROOM_K
    tight = False
    while True:
        linear = linear_of(unit, span, cap_c, board)
        found = watched(lamp, linear, law)
        hottest_c = max(bound_of(found, node, (1.0,)).at_c for node in _heated(linear))
        if tight or cap_c > HOTTEST_C:
            return found
        tight = hottest_c < cap_c
        cap_c = hottest_c + (TIGHT_K if tight else ROOM_K)


def _heated(linear: Linear) -> list[int]:
    """The hottest junction of each channel under full light: no place of the lamp is hotter."""
    return [int(nodes[np.argmax(linear.open_k[nodes])]) for nodes in linear.junctions.values()]


def _unit(
    name: str,
    lamp: Lamp,
    moved: dict[str, float],
    found: Watched,
    law: Law,
    stop: Callable[[], bool],
) -> UnitBounds:
    places = sorted(places_of(found, stop), key=lambda one: one.margin_k)
    shown = _distinct(tuple(places))
    for i, place in enumerate(places):
        if place in shown:
            replay = replayed(lamp, place.bound, law, found.linear, stop)
            places[i] = replace(place, replay=replay)
    return UnitBounds(name, moved, tuple(places), found)


def places_of(found: Watched, stop: Callable[[], bool] = lambda: False) -> list[PlaceBound]:
    """The bounds of all limited places; raises KeyboardInterrupt when ``stop`` says so."""
    lamp, linear = found.lamp, found.linear
    asked = (
        [
            (
                f"{JUNCTION}{name}",
                channel.junction_limit_c,
                [int(n) for n in linear.junctions[name]],
            )
            for name, channel in lamp.channels.items()
        ]
        + [
            (place.name, place.limit_c, [linear.places[node] for node in place.nodes])
            for place in limited_places(lamp)
        ]
        + [
            (f"{CUTOUT}{name}", cutout.least_trip_c, [linear.places[element_of(lamp, name)]])
            for name, cutout in lamp.cutouts.items()
        ]
    )
    hot_c = linear.span.ambient_c[1]
    bounds = []
    for name, limit_c, nodes in asked:
        nodes.sort(key=lambda node: -linear.open_k[node])
        best: Bound | None = None
        for node in nodes:
            _asked(stop)
            if best is not None and with_prices(found, node, best).at_c <= best.at_c:
                continue  # no hotter than the one before
            one = bound_of(found, node)
            best = one if best is None or one.at_c > best.at_c else best
        assert best is not None  # every place has a node
        crest_k = float(linear.crest_k[best.node])
        open_c = hot_c + float(linear.open_k[best.node]) + crest_k
        bounds.append(PlaceBound(name, limit_c, best.at_c + crest_k, open_c, best))
    return bounds


def _shift_k(unit: UnitBounds, law: Law, stop: Callable[[], bool]) -> float | None:
    """The largest shift of all thresholds at which the nearest places keep their limits [K]."""
    place, found = unit.places[0], unit.watched
    if place.open_c <= place.limit_c:
        return None
    known = {0.0: place.margin_k}
    shift_k = place.margin_k
    for _ in range(MOST_TRIES):
        _asked(stop)
        guess_c = found.hottest_c + max(shift_k, 0.0) + GUESS_K
        again = watched(found.lamp, found.linear, law.shifted(shift_k), guess_c)
        known[shift_k] = min(
            one.limit_c - float(found.linear.crest_k[one.bound.node])
            - bound_of(again, one.bound.node).at_c
            for one in unit.places[:NEAREST]
        )  # fmt: skip
        (one_k, one), (other_k, other) = sorted(known.items(), key=lambda pair: abs(pair[1]))[:2]
        if 0.0 <= known[shift_k] < CLOSE_K or one == other:
            break
        shift_k = one_k + (one - 0.5 * CLOSE_K) * (one_k - other_k) / (other - one)
        if abs(shift_k) > WIDEST_K:
            return None
    kept = [at_k for at_k, margin_k in known.items() if margin_k >= 0.0]
    return max(kept, default=None)


def _notes(lamp: Lamp, law: Law, found: Watched) -> tuple[str, ...]:
    """What the bounds rest on, and do not cover, in sentences."""
    notes = []
    if law.rests_on:
        notes.append(f"of the policy counts {law.rests_on}: a coarser bound, sound all the same")
    if found.extra > 0.0:
        notes.append(
            f"attack is slower than the reading may rise, so that the limit may be"
            f" {100 * found.extra:.2g} % above what the policy gives"
        )
    notes += not_rising(lamp)
    if lamp.board is not None:
        notes.append("the faces of the board count as evenly warm")
    return tuple(notes)
