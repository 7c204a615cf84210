"""Whether the cut-outs alone hold every limit: the controller stuck at full, for ever.

Every channel is driven at full, from uniform temperatures between the coldest air and the hottest
that limits allow, in the coldest and the hottest air, with all airflow and none, with the
heat sink in its place and without. The cut-outs are the slowest of their kind: they open at the
upper end of their tolerance and close at the upper end of that. Heat goes on flowing after one has
opened, and one that resets opens again and again, so that a case lasts until the slowest part of
the lamp has followed.
"""

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.limits.surroundings import Surroundings
from derate.loop.cutout import Switches
from derate.loop.instant import nanoseconds
from derate.loop.timeline import RUNAWAY_C
from derate.plant.plant import Plant
from derate.study.spread_units import Place, places_of

Array = NDArray[np.float64]

STARTS = 5
"""Uniform temperatures from which a case begins."""
FOLLOWED = 6.0
"""Slowest time constants after which all of a lamp has followed, to a quarter of a percent."""
STRIDES = 240
"""Of a case; the plant finds peaks and trips between them."""
LONGEST_S = 6 * 3600.0
TOLERANCE_K = 1e-3
"""Error allowed in each step, a tenth of a digit that is told."""


@dataclass(frozen=True)
class Case:
    """The air, the joint and the temperature at the start of one case of a stuck controller.

    ``stopped``: ``airflow`` [-] is that of fan or wind gone.
    """

    ambient_c: float
    airflow: float
    stopped: bool
    missing: bool
    start_c: float


@dataclass(frozen=True)
class Outcome:
    """What came of a case at one place.

    ``margin_k`` [K] is inf where the place did not get hotter than it was at the start: that was
    not the controller. ``opened_s``: when a cut-out first opened [s], None if none did.
    """

    case: Case
    place: Place
    peak_c: float
    margin_k: float
    peak_at_s: float
    opened_s: float | None

    @property
    def holds(self) -> bool:
        """Whether the limit held."""
        return self.margin_k >= 0.0


def slowest(lamp: Lamp, by_k: float = 0.0) -> Lamp:
    """The lamp with the slowest cut-outs of their kind, all trips moved by ``by_k`` [K]."""
    changes: dict[str, object] = {}
    for name, cutout in lamp.cutouts.items():
        key = f"cutouts.{name}"
        changes[f"{key}.trip"] = cutout.most_trip_c + by_k
        changes[f"{key}.tolerance"] = 0.0
        if cutout.reset_c is not None:
            reset_c = cutout.reset_c + cutout.reset_tolerance_k
            changes[f"{key}.reset"] = reset_c + min(by_k, 0.0)
            changes[f"{key}.reset_tolerance"] = 0.0
    return lamp.with_changes(changes)


def cases_of(
    lamp: Lamp, around: Surroundings, shift_k: float = 0.0, airflow: float = 1.0
) -> Iterator[Case]:
    """Every case; ``shift_k`` [K] moves the ambients, ``airflow`` is a factor on the airflow."""
    coldest_c, hottest_c = around.coldest_c + shift_k, around.hottest_c + shift_k
    hot_c = min(place.limit_c for place in places_of(lamp))
    starts_c = np.linspace(coldest_c, max(hot_c, hottest_c), STARTS).tolist()
    flows = ((airflow * around.most_airflow, False), (around.stopped, True))
    airs = dict.fromkeys(itertools.product((coldest_c, hottest_c), flows))
    for (ambient_c, (flow, stopped)), missing in itertools.product(airs, (False, True)):
        if missing and around.joint is None:
            continue
        for start_c in starts_c:
            if start_c >= ambient_c:
                yield Case(ambient_c, flow, stopped, missing, start_c)


class Stuck:
    """A lamp whose controller is stuck at full, made ready for one case after another."""

    def __init__(self, lamp: Lamp, around: Surroundings) -> None:
        self.lamp, self.around = lamp, around
        self.plant = Plant(lamp)
        self.plant.tolerance_k = TOLERANCE_K
        self.places = places_of(lamp)
        self.nodes = [self.plant.junctions[name] for name in lamp.channels]
        self.nodes += [
            np.array([self.plant.node_index(node) for node in one.nodes])
            for one in limited_places(lamp)
        ]

    def outcomes(self, case: Case) -> list[Outcome]:
        """Drive everything at full until the cut-outs have done what they will; a place each."""
        plant = self.plant
        ambient_c = np.full(len(self.lamp.ambients), case.ambient_c)
        plant.configure(case.airflow, self.around.missing if case.missing else {})
        plant.reset(ambient_c, None, np.full(len(plant.node_names), case.start_c))
        switches = Switches(self.lamp, plant)
        until_ns = nanoseconds(min(FOLLOWED * plant.slowest_s, LONGEST_S))
        now_ns, full = 0, np.ones(len(self.lamp.channels))
        while now_ns < until_ns and plant.node_c.max() < RUNAWAY_C:
            duties = np.where(switches.dead, 0.0, full)
            acting = (duties, full, ambient_c, np.zeros(len(self.lamp.sensors)))
            most_ns = min(until_ns // STRIDES + 1, until_ns - now_ns)
            passed_ns, _ = switches.advance(now_ns, most_ns, acting)
            now_ns += passed_ns
        opened = [one.at_s for one in switches.turned if one.opened]
        return self._told(case, opened[0] if opened else None)

    def worst(self, cases: Iterable[Case]) -> tuple[Outcome, ...]:
        """The outcome of least margin of each place, in their order."""
        found = [self.outcomes(case) for case in cases]
        return tuple(min(of, key=lambda one: one.margin_k) for of in zip(*found, strict=True))

    def _told(self, case: Case, opened_s: float | None) -> list[Outcome]:
        tally = self.plant.tally
        hottest = [nodes[np.argmax(tally.peak_c[nodes])] for nodes in self.nodes]
        peaks_c = np.minimum(tally.peak_c[hottest], RUNAWAY_C)
        margins_k = np.array([place.limit_c for place in self.places]) - peaks_c
        margins_k[peaks_c <= case.start_c + TOLERANCE_K] = np.inf
        return [
            Outcome(case, place, float(peak_c), float(margin_k), float(at_s), opened_s)
            for place, peak_c, margin_k, at_s in zip(
                self.places, peaks_c, margins_k, tally.peak_at_s[hottest], strict=True
            )
        ]
