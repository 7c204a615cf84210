"""Histories tried: each in several surroundings at once on the batch clock, the worst one kept."""

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.profile import Profile
from derate.limits.feared import full_from_cold
from derate.limits.history import History, profile_from, profile_keys
from derate.limits.space import Place, Space
from derate.loop.batch import Batch
from derate.loop.controllers import interpreted_because
from derate.plant.plant import Plant

Array = NDArray[np.float64]
MOST_THREADS = 2


class EnoughError(Exception):
    """The search is to end: what was found so far is kept."""


class Finding(NamedTuple):
    """A history in surroundings, and how far it stays below the nearest limit [K].

    ``peak_at_s`` [s]: when it is nearest; ``step``: the largest change of the limit within a tick
    while no input changes; ``turns``: of the limit, likewise.
    """

    history: History
    surroundings: Place
    margin_k: float
    peak_at_s: float
    step: float
    turns: int


class Tried(NamedTuple):
    """What came of one history in some surroundings: margins [K] and the rest, in their order."""

    findings: tuple[Finding, ...]

    @property
    def worst(self) -> Finding:
        """The one nearest to a limit, or farthest past it."""
        return min(self.findings, key=lambda one: one.margin_k)


@dataclass
class Kept:
    """What a search keeps: the worst of each way of searching, and of what is seen.

    ``ways``: way -> its worst finding; ``histories``, ``runs``: how many were run.
    """

    ways: dict[str, Finding] = field(default_factory=dict)
    steepest: Finding | None = None
    busiest: Finding | None = None
    histories: int = 0
    runs: int = 0

    def note(self, way: str, tried: Tried) -> None:
        """Keep what is worse than what was known."""
        self.histories += 1
        self.runs += len(tried.findings)
        worst = tried.worst
        if way not in self.ways or worst.margin_k < self.ways[way].margin_k:
            self.ways[way] = worst
        for one in tried.findings:
            if one.history.faults or one.surroundings.unit.scores:
                continue  # what is seen is asked of the nominal lamp without faults
            if self.steepest is None or one.step > self.steepest.step:
                self.steepest = one
            if self.busiest is None or one.turns > self.busiest.turns:
                self.busiest = one

    def below(self, margin_k: float) -> bool:
        """Whether anything has less margin [K]."""
        return bool(self.ways) and self.worst.margin_k < margin_k

    @property
    def worst(self) -> Finding:
        """The worst of all ways; at least one history must have been run."""
        return min(self.ways.values(), key=lambda one: one.margin_k)


class Trials:
    """Runs histories of a space; ``over`` is asked before each whether to end.

    Raises as ``Batch`` does. ``lanes``: how many surroundings a history is best run in at once.
    """

    def __init__(self, space: Space, seed: int, over: Callable[[], bool]) -> None:
        self.space, self.over = space, over
        self.kept = Kept()
        self._batch = Batch(space.lamp, self._profile(full_from_cold(space)), seed=seed, threads=1)
        self._limits_c = Plant(space.lamp).limits_c
        self._known: dict[tuple[object, ...], Tried] = {}
        interpreted = interpreted_because(space.lamp) is not None
        self._threads = 1 if interpreted else MOST_THREADS
        self.lanes = 8 if self._batch.side_by_side and not interpreted else 2

    def batch(self, history: History, colder_k: float) -> Batch:
        """The batch of a history, ambients so much colder than the hottest [K]."""
        return self._batch.through(self._profile(history, colder_k))

    def run(self, way: str, many: Iterable[History], surroundings: Sequence[Place]) -> list[Tried]:
        """Try histories, each in all surroundings, and keep the worst under the name ``way``.

        Raises EnoughError when the search is over.
        """
        asked = [history.joined() for history in many]
        place = tuple(one.key for one in surroundings)
        fresh = [h for h in dict.fromkeys(asked) if (h, place) not in self._known]

        def tried(history: History) -> Tried | None:
            return None if self.over() else self._tried(history, surroundings)

        with ThreadPoolExecutor(self._threads) as pool:
            found = list(pool.map(tried, fresh))
        for history, one in zip(fresh, found, strict=True):
            if one is None:
                raise EnoughError
            self._known[history, place] = one
            self.kept.note(way, one)
        return [self._known[history, place] for history in asked]

    def _tried(self, history: History, surroundings: Sequence[Place]) -> Tried:
        lamp = self.space.lamp
        result = self.batch(history, 0.0).run([one.specimen(lamp) for one in surroundings])
        margins_k = self._limits_c - result.peak_c
        nearest = np.nanargmin(margins_k, axis=1)
        steps = np.maximum(result.step_up, result.step_down)
        return Tried(
            tuple(
                Finding(
                    history,
                    one,
                    float(result.margin_k[i]),
                    float(result.peak_at_s[i, nearest[i]]),
                    float(steps[i]),
                    int(result.reversals[i]),
                )
                for i, one in enumerate(surroundings)
            )
        )

    def _profile(self, history: History, colder_k: float = 0.0) -> Profile:
        ambient_c = {name: c - colder_k for name, c in self.space.hottest_c.items()}
        return profile_from(profile_keys(history, self.space.lamp, ambient_c))
