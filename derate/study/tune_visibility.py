"""What people see of a lamp that derates: steps, slow falls, and how often the light turns.

Scored is the light delivered over the light asked for, while the request stands still: what a user
changes is no fault of the control, and neither is what a sensor fault brings about.

Sources: a change of 7.4 % in illuminance is just noticeable (Hu & Davis, 2016); half of observers
notice a slow reduction at about 15 % (Akashi & Neches); where light falls by 2 % a minute, one in
five intervenes at 35 % and half at 50 % (studies of the National Research Council of Canada). A
single step under 3 % of the level is taken as stepless, and a change within a second as one step
(both common practice).
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.control import command
from derate.loop.cycle import SMALLEST_SWING, turning_points
from derate.loop.merit import STEP_WINDOW_S, spells
from derate.loop.timeline import Recording

Array = NDArray[np.float64]

STEPLESS = 0.03
JUST_NOTICEABLE = 0.074
HALF_NOTICE = 0.15
"""A slow reduction that half of observers notice."""
INTERVENING = ((0.50, 0.5), (0.35, 0.2))
"""Reductions, and the share of people who then reach for the dimmer, where light falls slowly."""
LOOK_S = 1.0
"""Turns of the light are looked for this often [s]."""


@dataclass(frozen=True)
class Seen:
    """What is seen of the control in a run; all changes as fractions of the light before them.

    ``step``: the largest within a second; ``steps``: how many are noticeable; ``fall``: the
    deepest below the brightest light before, however slow; ``turns``: by 2 % of full light and
    more, beyond those of ambient and airflow, of which hunting has many.
    """

    step: float = 0.0
    steps: int = 0
    fall: float = 0.0
    turns: int = 0

    @property
    def noticed(self) -> bool:
        """Whether half of observers or more notice that the light has gone down."""
        return self.fall >= HALF_NOTICE or self.step >= JUST_NOTICEABLE

    @property
    def intervening(self) -> float:
        """At least this share of people would reach for the dimmer [-], as far as published."""
        return next((share for fall, share in INTERVENING if self.fall >= fall), 0.0)

    def joined(self, other: "Seen") -> "Seen":
        """The two together: the worse of each, all steps and turns."""
        return Seen(
            max(self.step, other.step),
            self.steps + other.steps,
            max(self.fall, other.fall),
            max(self.turns, other.turns),
        )


def seen_of(time_s: Array, share: Array, outside: Array | None = None) -> Seen:
    """What is seen of a course of light over light asked for, while the request stands still.

    ``time_s`` (K) [s], rising; ``share`` (K) [0..1]; ``outside`` (K, M): ambient and airflow.
    """
    if len(share) < 2:
        return Seen()
    before = np.searchsorted(time_s, time_s - STEP_WINDOW_S * (1.0 + 1e-9))
    before = np.minimum(before, np.maximum(np.arange(len(time_s)) - 1, 0))
    change = np.abs(share - share[before]) / np.where(share[before] > 0.0, share[before], np.inf)
    brightest = np.maximum.accumulate(share)
    fall = (brightest - share) / np.where(brightest > 0.0, brightest, np.inf)
    return Seen(float(change.max()), _steps(time_s, change), float(fall.max()),
                _turns(time_s, share, outside))  # fmt: skip


def _steps(time_s: Array, change: Array) -> int:
    """Noticeable changes, at most one a second."""
    count, free_s = 0, -np.inf
    for at_s in time_s[change > JUST_NOTICEABLE]:
        if at_s >= free_s:
            count, free_s = count + 1, at_s + STEP_WINDOW_S
    return count


def _turns(time_s: Array, share: Array, outside: Array | None) -> int:
    """Turns of the light less those of what surrounds the lamp, which it may well follow."""
    looks = np.unique(np.searchsorted(time_s, np.arange(time_s[0], time_s[-1], LOOK_S)))
    turns = len(turning_points(share[looks], SMALLEST_SWING)[1:])
    if outside is None or turns == 0:
        return turns
    natural = 0
    for course in outside[looks].T:
        size = float(np.ptp(course))
        natural += len(turning_points(course, 0.02 * size)) if size > 0.0 else 0
    return max(0, turns - natural)


def seen_in(recording: Recording) -> Seen:
    """What is seen in a recorded run, stretch by stretch of unchanged requests."""
    rows = recording.rows
    time_s = rows["time_s"][:, 0].astype(float)
    light, asked = (np.diff(rows[n].sum(axis=1)) for n in ("light_lm_s", "asked_lm_s"))
    lit = asked > 0.0
    share = np.divide(light, asked, out=np.ones_like(light), where=lit)
    outside = np.column_stack((rows["ambient_c"], rows["airflow"]))
    found = Seen()
    for first, after in _stretches(rows["request"], rows["status"][:, 0].astype(int), lit):
        part = slice(first, after)
        found = found.joined(seen_of(time_s[part], share[part], outside[part]))
    return found


def _stretches(
    request: NDArray[np.float64], status: NDArray[np.int64], lit: NDArray[np.bool_]
) -> Iterator[tuple[int, int]]:
    """Rows with light, unchanged requests and neither a fault nor what is left of one."""
    changed = np.any(np.diff(request, axis=0) != 0.0, axis=1)[: len(lit)]
    free = lit.copy()
    recovering = (status & (command.FAULT | command.RAMP)) != 0
    faulty = (status & command.FAULT) != 0
    for first, after in spells(recovering):
        if faulty[first:after].any():
            free[first + int(np.argmax(faulty[first:after])) : after] = False
    for first, after in spells(free):
        edges = [first, *(first + 1 + np.flatnonzero(changed[first : after - 1])).tolist(), after]
        yield from itertools.pairwise(edges)
