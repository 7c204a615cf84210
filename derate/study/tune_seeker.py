"""The time of a tuning: shared out among its searches, and kept within each of them.

The clock is looked at between generations, and about every second within one.
"""

import time
import zlib
from collections.abc import Callable, Mapping
from typing import Final

from derate.loop.timeline import Stop
from derate.study.tune_memory import Memory
from derate.study.tune_search import Searched, refine, search
from derate.study.tune_space import Settings, Space
from derate.study.tune_trial import Figures, Goal, Trials
from derate.study.tune_wanted import Wanted

FOR_CHECKS: Final = 0.12
MOST_FOR_CHECKS: Final = 0.25
"""Share of the time left for checks, drawn units and moving each setting: at least, at most."""
CHECKED_TICK_S: Final = 1.5e-4
"""A control period takes about so long on the timeline; for sharing out the time alone."""
GRACE_S: Final = 3.0
"""The budget is kept to within about so long [s]."""
CORNERS: Final = "corners"
MOST_FOR_CORNERS: Final = 0.3
"""Share of the time for searches; where corners need more the lamp is tuned alone."""
Doing = Callable[[str], object]
Work = Callable[[int, Callable[[int], bool]], Searched]


class Seeker:
    """Searches for one goal after another, shares out the time, and listens for Ctrl-C.

    ``ticks``: control periods of all profiles, which are to be checked on the timeline.
    """

    def __init__(
        self,
        space: Space,
        memory: Memory,
        wanted: Wanted,
        doing: Doing,
        stop: Stop,
        ticks: float,
    ) -> None:
        self.space, self.memory, self.wanted = space, memory, wanted
        self.doing, self.stop = doing, stop
        self.checked_s = CHECKED_TICK_S * ticks
        self.leave_for(0.0)
        self.began_s = time.monotonic() - memory.seconds

    @property
    def passed_s(self) -> float:
        """Time spent so far, earlier goes included [s]."""
        return time.monotonic() - self.began_s

    def leave_for(self, drawn_s: float) -> None:
        """Leave time for the checks and for drawn units that take so long [s]."""
        least, most = (share * self.wanted.budget_s for share in (FOR_CHECKS, MOST_FOR_CHECKS))
        left_s = min(max(least, self.checked_s + drawn_s), most)
        self.search_s = self.wanted.budget_s - left_s

    def late(self) -> bool:
        """Whether the time for it all is over."""
        return self.stop() or self.passed_s > self.wanted.budget_s

    def let_finish(self, trials: Trials, runs: int) -> None:
        """Let so many more candidates run, if they take but a moment, even if time is over."""
        if runs * trials.each_s <= GRACE_S:
            trials.late = self.stop

    def has_time_for_corners(self, takes_s: float) -> bool:
        """Whether the corners can be looked for in time; so it stays in a later go."""
        phases = self.memory.phases
        if CORNERS not in phases and not self.stop():
            phases[CORNERS] = int(takes_s <= MOST_FOR_CORNERS * self.search_s)
        return bool(phases.get(CORNERS, 0))

    def seek(
        self,
        trials: Trials,
        phase: str,
        goal: Goal,
        until: float,
        first: Mapping[Settings, Figures],
    ) -> bool:
        """Search for a goal, beginning with what is known; whether that ended of itself."""
        seed = self.wanted.seed + zlib.crc32(phase.encode())
        return self._timed(
            trials,
            phase,
            until,
            lambda most, over: search(
                self.space, trials, goal, seed=seed, first=first, most=most, over=over
            ),
            lambda: f"{len(found(trials))} settings, {self.best(trials, goal)}",
        )

    def refine(self, trials: Trials, phase: str, goal: Goal, until: float) -> bool:
        """Go on from the best with ever smaller steps; whether that ended of itself."""
        return self._timed(
            trials,
            phase,
            until,
            lambda most, over: refine(self.space, trials, goal, most=most, over=over),
            lambda: f"{len(found(trials))} settings, {self.best(trials, goal)}",
        )

    def _timed(
        self, trials: Trials, phase: str, until: float, work: Work, told: Callable[[], str]
    ) -> bool:
        """Work at a phase ``until`` a share of the time is over; whether it ended of itself.

        What came to its end in an earlier go takes as many rounds as it did then; what was cut
        short within a round is recalled.
        """
        if self.stop():
            return False
        if phase in self.memory.cut:
            trials.recall(self.memory.cut[phase])
            return False
        known = self.memory.phases.get(phase)
        until_s = until * self.search_s

        def late() -> bool:
            return self.stop() or (known is None and self.passed_s > until_s)

        def over(generation: int) -> bool:
            self.doing(f"{phase}: round {generation}, {told()}")
            if known is None:
                self.memory.keep(self.passed_s)
            return late()

        trials.late = late
        ended = work(self.wanted.generations if known is None else known, over)
        trials.late = self.late
        if not self.stop():
            if ended.cut:
                self.memory.cut[phase] = trials.marked()
            else:
                self.memory.phases[phase] = ended.generations
            self.memory.keep(self.passed_s)
        return ended.finished

    def best(self, trials: Trials, goal: Goal) -> str:
        """In a few words, the best so far."""
        one = min(trials.tried.values(), key=goal.cost)
        return f"{100.0 * one.light:.1f} % light, {one.margin_k:.1f} K left"


def found(trials: Trials) -> dict[Settings, Figures]:
    """All settings tried but the lamp's own, which are written nowhere."""
    return {settings: figures for settings, figures in trials.tried.items() if settings}
