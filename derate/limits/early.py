"""Whether a missing heat sink shows early, by how fast the reading rises after switch-on.

Units drawn within the tolerances are switched on at full, cold, in all the air that the file knows:
good ones, and as many whose joint to the heat sink conducts ten and a hundred times worse. What is
looked at is the mean rate of the firmware's own reading from switch-on to an instant,

    rate(w) = (reading(w) - reading(0)) / w,

with the real controller, its ADC and their noise. A window w tells the bad from the good where the
slowest bad unit rises faster than the fastest good one; the threshold lies between them.
"""

import pickle
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.varying import AIRFLOW, AMBIENT
from derate.limits.surroundings import MISSING, Surroundings
from derate.loop.batch import Batch, Specimen
from derate.loop.units import draw, unit_lamp
from derate.sensing.chain import Chain, chains_of
from derate.study.chance import Chance, chance

Array = NDArray[np.float64]

UNITS: Final = 180
"""Of each kind; a third of them chooses a threshold, the others are counted: none of 120 shows at
most 2.5 %, 95 % sure."""
BOARDS: Final = 36
"""As many where each has a board of its own, which takes half a second: none of 24 shows 11.7 %."""
BAD: Final = 10.0
FACTORS: Final = (1.0, BAD, MISSING)
"""On the resistance of the joint: a good one, a bad one, none."""
CLEAR: Final = 0.5
"""A gap this wide, as a share of the width of the good units' rates, is no accident."""
WINDOWS_S: Final = (1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0, 45.0, 60.0, 90.0)
"""Times after switch-on at which it is looked [s]."""
WARM, STILL = 0.7548776662466927, 0.5698402909980532
"""Steps of these spread the units evenly over the square of ambient and airflow, whatever their
number (the plastic number's additive recurrence)."""


@dataclass(frozen=True, eq=False)
class Look:
    """One window: ``good`` and ``bad`` rates (n) [K/s] and the threshold between them.

    Those are of units that had no part in choosing it. ``false_alarms``: good units above it;
    ``missed``: bad ones that are not.
    """

    window_s: float
    good_k_per_s: Array
    bad_k_per_s: Array
    threshold_k_per_s: float
    false_alarms: Chance
    missed: Chance

    @property
    def tells(self) -> bool:
        """Whether no unit was on the wrong side."""
        return self.false_alarms.over == 0 and self.missed.over == 0

    @property
    def clear(self) -> bool:
        """Whether the gap is wide as well, so that other units will not fall into it."""
        gap = float(self.bad_k_per_s.min() - self.good_k_per_s.max())
        return self.tells and gap >= CLEAR * float(np.ptp(self.good_k_per_s)) and gap > 0.0


@dataclass(frozen=True, eq=False)
class Detection:
    """A joint that conducts ``factor`` times worse, looked at window by window.

    ``best``: the earliest window that clearly tells it from a good one, or else tells it at all;
    else that with the fewest units on the wrong side.
    """

    factor: float
    looks: tuple[Look, ...]

    @property
    def best(self) -> Look:
        """The window to take."""
        for found in ([one for one in self.looks if one.clear], [o for o in self.looks if o.tells]):
            if found:
                return found[0]
        wrong = [look.false_alarms.over + look.missed.over for look in self.looks]
        return self.looks[int(np.argmin(wrong))]


def detections(rates: Sequence[Array]) -> tuple[Detection, ...]:
    """What the rates with each of ``FACTORS`` tell (U, windows); nothing without rates."""
    if not rates:
        return ()
    good, *bad = rates
    return tuple(
        Detection(
            factor,
            tuple(look(w_s, good[:, w], of[:, w]) for w, w_s in enumerate(WINDOWS_S)),
        )
        for factor, of in zip(FACTORS[1:], bad, strict=True)
    )


def look(window_s: float, good_k_per_s: Array, bad_k_per_s: Array) -> Look:
    """What a window tells.

    The threshold is that with the fewest of the first third of the units on the wrong side, in the
    middle of the gap where there is one; the others are counted.
    """
    choosing = len(good_k_per_s) // 3
    chosen = np.concatenate((good_k_per_s[:choosing], bad_k_per_s[:choosing]))
    ends = np.unique(chosen[np.isfinite(chosen)])
    cuts = (ends[:-1] + ends[1:]) / 2.0 if len(ends) > 1 else ends
    wrong = (good_k_per_s[:choosing, None] > cuts).sum(axis=0)
    wrong += (bad_k_per_s[:choosing, None] <= cuts).sum(axis=0)
    threshold = float(cuts[int(np.argmin(wrong))])
    good, bad = good_k_per_s[choosing:], bad_k_per_s[choosing:]
    return Look(
        window_s,
        good,
        bad,
        threshold,
        chance(int((good > threshold).sum()), len(good)),
        chance(int((bad <= threshold).sum()), len(bad)),
    )


def rates_with(task: bytes, factor: float) -> Array:
    """The rates of drawn units whose joint conducts ``factor`` times worse (U, windows) [K/s]."""
    lamp, around, seed = pickle.loads(task)
    firmware = lamp.with_changes({"cutouts": None})
    bare = firmware.with_changes({"profiles": None})  # a unit is made in half the time
    batch = Batch(firmware, _switched_on(lamp, around, factor), seed=seed, threads=1)
    units = UNITS if lamp.board is None else BOARDS
    specimens = list(_specimens(bare, around, units, seed))
    found = batch.run(specimens, trace=range(units))
    chain = chains_of(firmware)[0]
    rows = [found.recordings[i].rows for i in range(units)]
    return np.array([_rates_of(chain, one["time_s"][:, 0], one["code"][:, 0]) for one in rows])


def _rates_of(chain: Chain, time_s: NDArray[Any], codes: NDArray[Any]) -> Array:
    """The rates of one run, nan where the reading is faulty."""
    at = np.searchsorted(time_s, WINDOWS_S)
    reading_c = np.array([chain.reading_c(int(code)) for code in codes[[0, *at]]])
    return np.asarray((reading_c[1:] - reading_c[0]) / (time_s[at] - time_s[0]))


def _switched_on(lamp: Lamp, around: Surroundings, factor: float) -> Profile:
    period_s = lamp.timing.control_period_s
    event = {"kind": "interface degraded", "at": 0.0, "link": around.joint, "factor": factor}
    return Profile.model_validate(
        {
            "duration": max(WINDOWS_S) + 2.0 * period_s,
            "ambient": around.coldest_c,
            "airflow": max(around.most_airflow, 1e-3),
            "request": dict.fromkeys(lamp.channels, 1.0),
            "events": [event],
        }
    )


def _specimens(lamp: Lamp, around: Surroundings, units: int, seed: int) -> Iterator[Specimen]:
    """Drawn units, spread evenly over ambients and, by its logarithm, over airflows."""
    draws = draw(lamp, range(units), seed)
    widest = max(around.least_airflow, 1e-3) / max(around.most_airflow, 1e-3)
    for unit in range(units):
        drawn = draws.of(unit)
        warm, still = (unit * WARM) % 1.0, (unit * STILL) % 1.0
        shift_k = warm * (around.hottest_c - around.coldest_c) + drawn.get(AMBIENT.key, 0.0)
        airflow = widest**still * drawn.get(AIRFLOW.key, 1.0)
        yield Specimen(unit, unit_lamp(lamp, draws, unit), shift_k=shift_k, airflow=airflow)
