"""The cut-outs of a lamp in a run: the instants at which they open and close, and what came of it.

A cut-out opens at the instant at which its element reaches its trip temperature, wherever between
two ticks that falls: the plant tells the highest temperature of an interval exactly; where it
reaches the trip, the interval is gone through again, by secants and halves, until the instant is
known to a nanosecond or the temperature to a billionth of a kelvin. The highest temperature up to
an instant never falls with it, so that the first one is found. One that resets closes where the end
of an interval has cooled to its reset temperature, the instant found in the same way.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.loop.instant import NANOSECONDS
from derate.plant.network import element_of
from derate.plant.plant import Mark, Plant

Array = NDArray[np.float64]
MET_K = 1e-9
"""An element this near to its temperature has met it."""
Acting = tuple[Array, Array, Array, Array]
"""Duties, requests, ambients and sensor heat, as ``Plant.advance`` takes them."""


class Switching(NamedTuple):
    """A cut-out that opens or closes at ``at_s`` [s]."""

    name: str
    at_s: float
    opened: bool


@dataclass(frozen=True)
class CutoutMerit:
    """A cut-out in a run: how often it opened, first when [s], and how long it was open [s].

    ``peak_c``: its element's highest temperature; ``margin_k`` [K]: from there up to the lowest
    temperature at which one of its kind may open. ``first_s`` is None where it stayed closed.
    """

    times: int
    first_s: float | None
    open_s: float
    peak_c: float
    least_trip_c: float
    margin_k: float


class Switches:
    """The cut-outs of ``lamp`` on ``plant``, all closed at first; ``turned`` in order of time.

    ``dead`` (C): channels that an open one cuts off.
    """

    def __init__(self, lamp: Lamp, plant: Plant) -> None:
        self.plant = plant
        self.names = list(lamp.cutouts)
        self.cutouts = list(lamp.cutouts.values())
        self.elements = [plant.node_index(element_of(lamp, name)) for name in self.names]
        opens = [cutout.channels(lamp) for cutout in self.cutouts]
        self._cuts = [np.array([channel in names for channel in lamp.channels]) for names in opens]
        self._open = [False] * len(self.names)
        self.dead = np.zeros(len(lamp.channels), dtype=bool)
        self.turned: list[Switching] = []

    def advance(self, begin_ns: int, most_ns: int, acting: Acting) -> tuple[int, bool]:
        """Advance the plant by ``most_ns``, or until a cut-out turns; how far, and whether one did.

        ``begin_ns``: the time now.
        """
        if not self.names:
            self.plant.advance(most_ns / NANOSECONDS, *acting)
            return most_ns, False
        mark = self.plant.mark()
        beyond_k = self._go(most_ns, acting)
        if not (beyond_k >= 0.0).any():
            return most_ns, False
        after_ns = self._first_ns(mark, most_ns, acting)
        for number in np.flatnonzero(self._again(mark, after_ns, acting) >= 0.0).tolist():
            self._turn(number, (begin_ns + after_ns) / NANOSECONDS)
        return after_ns, True

    def _first_ns(self, mark: Mark, most_ns: int, acting: Acting) -> int:
        """The first instant in an interval at which a cut-out turns; at its end one has."""
        before_ns, after_ns = 0, most_ns
        under_k = float(self._again(mark, 1, acting).max())
        over_k = float(self._again(mark, most_ns, acting).max())
        if under_k >= 0.0:
            return 1
        halve = False
        while after_ns - before_ns > 1 and over_k > MET_K:
            share = 0.5 if halve else -under_k / (over_k - under_k)
            between_ns = before_ns + round(share * (after_ns - before_ns))
            between_ns = min(max(between_ns, before_ns + 1), after_ns - 1)
            found_k = float(self._again(mark, between_ns, acting).max())
            halve = not halve
            if found_k >= 0.0:
                after_ns, over_k = between_ns, found_k
            else:
                before_ns, under_k = between_ns, found_k
        return after_ns

    def _again(self, mark: Mark, passed_ns: int, acting: Acting) -> Array:
        self.plant.back(mark)
        return self._go(passed_ns, acting)

    def merits(self, duration_s: float) -> dict[str, CutoutMerit]:
        """What came of each over a run of ``duration_s`` [s]."""
        return {
            name: self._merit(name, cutout.least_trip_c, element, duration_s)
            for name, cutout, element in zip(self.names, self.cutouts, self.elements, strict=True)
        }

    def _go(self, passed_ns: int, acting: Acting) -> Array:
        """Advance; how far each cut-out came beyond the temperature at which it turns [K]."""
        tally = self.plant.tally
        peaks = [(tally.peak_c[node], tally.peak_at_s[node]) for node in self.elements]
        tally.peak_c[self.elements] = -np.inf
        self.plant.advance(passed_ns / NANOSECONDS, *acting)
        beyond_k = [self._beyond_k(number, tally.peak_c) for number in range(len(self.names))]
        for node, (peak_c, at_s) in zip(self.elements, peaks, strict=True):
            if peak_c >= tally.peak_c[node]:
                tally.peak_c[node], tally.peak_at_s[node] = peak_c, at_s
        return np.array(beyond_k)

    def _beyond_k(self, number: int, peak_c: Array) -> float:
        cutout, node = self.cutouts[number], self.elements[number]
        if not self._open[number]:
            return float(peak_c[node]) - cutout.trip_c
        if cutout.reset_c is None:
            return -np.inf
        return cutout.reset_c - float(self.plant.node_c[node])

    def _turn(self, number: int, at_s: float) -> None:
        self._open[number] = not self._open[number]
        self.turned.append(Switching(self.names[number], at_s, self._open[number]))
        cut = [cuts for cuts, opened in zip(self._cuts, self._open, strict=True) if opened]
        self.dead = np.any([np.zeros(len(self.dead), dtype=bool), *cut], axis=0)

    def _merit(self, name: str, least_trip_c: float, node: int, duration_s: float) -> CutoutMerit:
        turned = [one for one in self.turned if one.name == name]
        opened = [one.at_s for one in turned if one.opened]
        closed = [one.at_s for one in turned if not one.opened]
        peak_c = float(self.plant.tally.peak_c[node])
        return CutoutMerit(
            times=len(opened),
            first_s=opened[0] if opened else None,
            open_s=sum([*closed, duration_s][: len(opened)]) - sum(opened),
            peak_c=peak_c,
            least_trip_c=least_trip_c,
            margin_k=least_trip_c - peak_c,
        )


def trip_margins_k(lamp: Lamp, plant: Plant, peak_c: Array) -> Array:
    """How far units stayed below the least trip temperature of a cut-out, the nearest [K] (U).

    ``peak_c`` (U, N) [degC]: highest temperatures of runs that know nothing of cut-outs; up to the
    first trip they are the same. Below 0: one of its kind would have opened. inf without cut-outs.
    """
    found = np.full(len(peak_c), np.inf)
    for name, cutout in lamp.cutouts.items():
        element = plant.node_index(element_of(lamp, name))
        found = np.minimum(found, cutout.least_trip_c - peak_c[:, element])
    return found


def open_rows(turned: tuple[Switching, ...], name: str, time_s: Array) -> Array:
    """1 where a cut-out is open at the times ``time_s`` [s], else 0."""
    own = [one for one in turned if one.name == name]
    passed = np.searchsorted([one.at_s for one in own], time_s, side="right")
    state = np.array([0.0, *(float(one.opened) for one in own)])
    return np.asarray(state[passed])
