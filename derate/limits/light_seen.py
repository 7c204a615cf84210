"""What is seen of the light in the histories of a search: the largest step, and hunting.

Looked at are the two histories without faults in which the limit of the nominal lamp moved most
from one tick to the next, and turned most often, while nothing outside changed.
"""

from typing import NamedTuple

from derate.limits.history import History
from derate.limits.trials import Finding, Trials
from derate.loop.cycle import find_cycle
from derate.loop.run import trace_of
from derate.study.tune_visibility import JUST_NOTICEABLE, seen_in


class LightSeen(NamedTuple):
    """The worst of what is seen.

    ``step``: the largest change of light within a second, as a fraction of the light before;
    ``step_in``: the finding that shows it; ``period_s`` [s], ``swing`` [share of full light]: of
    hunting, None and 0 where there is none; ``hunts_in``: the finding that shows it.
    """

    step: float = 0.0
    step_in: Finding | None = None
    period_s: float | None = None
    swing: float = 0.0
    hunts_in: Finding | None = None

    @property
    def visible(self) -> bool:
        """Whether the step is just noticeable or more."""
        return self.step > JUST_NOTICEABLE

    @property
    def broken(self) -> bool:
        """Whether a step is visible, or the lamp hunts."""
        return self.visible or self.period_s is not None


def light_seen(trials: Trials) -> LightSeen:
    """What is seen in the steepest and in the busiest history of a search."""
    found, looked = LightSeen(), set[History]()
    for finding in (trials.kept.steepest, trials.kept.busiest):
        if finding is None or finding.history in looked:
            continue
        looked.add(finding.history)
        lamp = trials.space.lamp
        batch = trials.batch(finding.history, 0.0)
        recording = batch.run([finding.surroundings.specimen(lamp)], trace=[0]).recordings[0]
        step = seen_in(recording).step
        if step > found.step:
            found = found._replace(step=step, step_in=finding)
        cycle = find_cycle(trace_of(lamp, recording))
        if cycle is not None and found.period_s is None:
            found = found._replace(
                period_s=cycle.period_s, swing=cycle.swing_limit, hunts_in=finding
            )
    return found
