"""Settings tried: every candidate on every unit through every profile, and what came of it."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.loop.batch import Batch
from derate.loop.merit import share_of
from derate.study.tune_space import Settings
from derate.study.tune_units import TunedUnit, nominal_unit
from derate.study.tune_visibility import Seen, seen_in


@dataclass(frozen=True)
class Figures:
    """What came of some settings.

    ``margin_k``: least distance to a limit of any unit in any profile [K]; ``light``: that of the
    nominal lamp over all profiles, as a share of what was asked for [-]; ``seen``: of the nominal
    lamp, None where it was not looked at because the limits are not held.
    """

    margin_k: float
    light: float
    seen: Seen | None


class Trials:
    """Tries settings of a lamp on the nominal unit and some corners, and keeps what it ``tried``.

    ``guard_k``: settings with less margin are not looked at any closer. ``known``: figures of an
    earlier search, which need not be run again; they count as tried when they are asked for.
    """

    def __init__(
        self,
        lamp: Lamp,
        batches: Mapping[str, Batch],
        corners: Sequence[TunedUnit],
        guard_k: float,
        known: Mapping[Settings, Figures] | None = None,
    ) -> None:
        self.lamp, self.batches, self.guard_k = lamp, batches, guard_k
        self.units = (nominal_unit(lamp), *corners)
        self.known, self.tried = dict(known or {}), dict[Settings, Figures]()
        self.runs = 0

    def firmware(self, settings: Settings) -> Lamp:
        """The lamp with other settings; raises InputError where they do not go together."""
        return self.lamp.with_changes(dict(settings))

    def figures(self, many: Iterable[Settings]) -> list[Figures]:
        """The figures of each; those never tried are run together."""
        asked = list(many)
        fresh = [one for one in dict.fromkeys(asked) if one not in self.known]
        if fresh:
            self.known |= dict(zip(fresh, self._run(fresh), strict=True))
        self.tried |= {one: self.known[one] for one in asked}
        return [self.tried[one] for one in asked]

    def possible(self, settings: Settings) -> bool:
        """Whether settings go together, by the rules of the lamp file."""
        try:
            self.firmware(settings)
        except InputError:
            return False
        return True

    def _run(self, fresh: Sequence[Settings]) -> list[Figures]:
        lamps = [self.firmware(settings) for settings in fresh]
        specimens = [unit.with_firmware(lamp) for lamp in lamps for unit in self.units]
        shape = (len(fresh), len(self.units))
        margin_k = np.full(len(fresh), np.inf)
        delivered, asked = np.zeros(len(fresh)), np.zeros(len(fresh))
        for batch in self.batches.values():
            result = batch.run(specimens)
            self.runs += len(specimens)
            margin_k = np.minimum(margin_k, result.margin_k.reshape(shape).min(axis=1))
            delivered += result.light_lm_s.sum(axis=1).reshape(shape)[:, 0]
            asked += result.asked_lm_s.sum(axis=1).reshape(shape)[:, 0]
        good = np.flatnonzero(margin_k >= self.guard_k)
        seen = dict(zip(good.tolist(), self._seen([lamps[i] for i in good]), strict=True))
        return [
            Figures(float(m), share_of(float(d), float(a)), seen.get(i))
            for i, (m, d, a) in enumerate(zip(margin_k, delivered, asked, strict=True))
        ]

    def _seen(self, lamps: Sequence[Lamp]) -> list[Seen]:
        """What is seen of the nominal unit, firmware by firmware."""
        found = [Seen() for _ in lamps]
        specimens = [self.units[0].with_firmware(lamp) for lamp in lamps]
        for batch in self.batches.values() if lamps else ():
            result = batch.run(specimens, trace=range(len(specimens)))
            self.runs += len(specimens)
            found = [one.joined(seen_in(result.recordings[i])) for i, one in enumerate(found)]
        return found


@dataclass(frozen=True)
class Goal:
    """What is asked of settings; among those that give it, the most light is looked for.

    ``guard_k``: to every limit [K]; ``step``: no larger one within a second [-]; ``fall``: none
    deeper [-]; ``turns``: fewer than these.
    """

    guard_k: float
    step: float = math.inf
    fall: float = math.inf
    turns: int = 7

    def lacking(self, figures: Figures) -> float:
        """How far figures are from it: 0 where all is given, 1 and more where limits are not."""
        if not figures.margin_k >= self.guard_k:
            return 1.0 + min(self.guard_k - figures.margin_k, 1e3)
        seen = figures.seen
        if seen is None:
            return 1.0
        over = max(0.0, seen.step - self.step) + max(0.0, seen.fall - self.fall)
        over += max(0, seen.turns - self.turns + 1) / 10.0
        return over / (1.0 + over)

    def cost(self, figures: Figures) -> float:
        """What a search makes small: first what is lacking, then the light that is missing."""
        lacking = self.lacking(figures)
        return 1.0 + lacking if lacking > 0.0 else 1.0 - _known(figures.light)


def _known(light: float) -> float:
    return light if math.isfinite(light) else 1.0
