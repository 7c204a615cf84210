"""Settings tried: every candidate on every unit through every profile, and what came of it."""

import dataclasses
import math
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from derate.control.policy import policy_of
from derate.errors import InputError
from derate.firmware.quantise import controller_fields, levels_of, policy_fields
from derate.lamp.controller import Custom
from derate.lamp.lamp import Lamp
from derate.loop.batch import Batch
from derate.loop.cutout import trip_margins_k
from derate.loop.merit import share_of
from derate.loop.timeline import Stop, going_on
from derate.study.tune_space import Settings
from derate.study.tune_units import TunedUnit, nominal_unit
from derate.study.tune_visibility import Seen, seen_in


@dataclass(frozen=True)
class Figures:
    """What came of some settings.

    ``margin_k``: least distance to a limit, or to the least trip temperature of a cut-out, of any
    unit in any profile [K]; ``light``: that of the
    nominal lamp over all profiles, as a share of what was asked for [-]; ``seen``: of the nominal
    lamp, None where it was not looked at.
    """

    margin_k: float
    light: float
    seen: Seen | None


IMPOSSIBLE = Figures(-1e3, 0.0, None)
"""Settings that do not go together: as bad as can be."""
AT_FIRST = 8
"""As many settings are run before it is known how long one takes."""
BETWEEN_LOOKS_S = 1.0
"""Settings that are run together take about so long, then the clock is looked at."""


class OutOfTimeError(Exception):
    """The time was over before all that was asked for had been tried."""


class Trials:
    """Tries settings of a lamp on the nominal unit and some corners, and keeps what it ``tried``.

    What is seen costs twice what the rest does and is looked at only where it is asked for.
    ``known``: figures of an earlier search, which need not be run again; they count as tried, and
    as looked at, when they are asked for. Once ``late()`` is true nothing new is run, and asking
    for more than is known raises OutOfTimeError; the very first settings are run in any case.
    ``each_s``: how long one candidate takes [s], 0 before the first.
    """

    def __init__(
        self,
        lamp: Lamp,
        batches: Mapping[str, Batch],
        corners: Sequence[TunedUnit],
        known: dict[Settings, Figures] | None = None,
    ) -> None:
        self.lamp, self.batches = lamp, batches
        self.units = (nominal_unit(lamp), *corners)
        self.known = {} if known is None else known
        self.tried: dict[Settings, Figures] = {}
        self.runs = 0
        self.each_s = 0.0
        self.late: Stop = going_on

    def firmware(self, settings: Settings) -> Lamp:
        """The lamp with other settings; raises InputError where they do not go together."""
        return self.lamp.with_changes(dict(settings))

    def figures(self, many: Iterable[Settings]) -> list[Figures]:
        """The figures of each; those never tried are run together."""
        asked = list(many)
        fresh = [one for one in dict.fromkeys(asked) if one not in self.known]
        try:
            for part in self._parts(fresh):
                self.known.update(zip(part, self._run(part), strict=True))
        finally:
            for one in asked:
                if one in self.known:
                    self.tried.setdefault(one, dataclasses.replace(self.known[one], seen=None))
        return [self.tried[one] for one in asked]

    def _parts(self, fresh: Sequence[Settings]) -> Iterator[Sequence[Settings]]:
        """Settings in parts, each as many as are run before the clock is looked at."""
        begin = 0
        while begin < len(fresh):
            if self.known and self.late():
                raise OutOfTimeError
            size = max(1, int(BETWEEN_LOOKS_S / self.each_s)) if self.each_s else AT_FIRST
            part = fresh[begin : begin + size]
            began_s = time.monotonic()
            yield part
            took_s = (time.monotonic() - began_s) / len(part)
            self.each_s = (self.each_s + took_s) / 2.0 if self.each_s else took_s
            begin += size

    def looked(self, many: Iterable[Settings]) -> list[Figures]:
        """The figures of each, what is seen with them; those never looked at are run together."""
        asked = list(many)
        self.figures(asked)
        fresh = [one for one in dict.fromkeys(asked) if self.known[one].seen is None]
        if fresh and self.late():
            raise OutOfTimeError
        firmwares = {one: lamp for one in fresh if (lamp := self.made(one)) is not None}
        for one, seen in zip(firmwares, self._seen(list(firmwares.values())), strict=True):
            self.known[one] = dataclasses.replace(self.known[one], seen=seen)
        self.tried |= {one: self.known[one] for one in asked}
        return [self.tried[one] for one in asked]

    def marked(self) -> list[tuple[int, bool]]:
        """Which of what is known was tried, by its place, and whether it was looked at."""
        places = {settings: place for place, settings in enumerate(self.known)}
        return [(places[one], figures.seen is not None) for one, figures in self.tried.items()]

    def recall(self, marked: Iterable[tuple[int, bool]]) -> None:
        """Take as tried what ``marked`` says."""
        known = list(self.known.items())
        for place, looked in marked:
            settings, figures = known[place]
            self.tried[settings] = figures if looked else dataclasses.replace(figures, seen=None)

    def made(self, settings: Settings) -> Lamp | None:
        """The lamp with other settings; None where they do not go together or the C has no such."""
        try:
            lamp = self.firmware(settings)
            if isinstance(lamp.controller.policy, Custom):
                policy_of(lamp)
            else:
                controller_fields(lamp), policy_fields(lamp), levels_of(lamp)
        except InputError:
            return None
        return lamp

    def _run(self, fresh: Sequence[Settings]) -> list[Figures]:
        made = [self.made(settings) for settings in fresh]
        found = iter(self._figures_of([lamp for lamp in made if lamp is not None]))
        return [IMPOSSIBLE if lamp is None else next(found) for lamp in made]

    def _figures_of(self, lamps: Sequence[Lamp]) -> list[Figures]:
        """The figures of firmwares, all run together."""
        if not lamps:
            return []
        specimens = [unit.with_firmware(lamp) for lamp in lamps for unit in self.units]
        shape = (len(lamps), len(self.units))
        margin_k = np.full(len(lamps), np.inf)
        delivered, asked = np.zeros(len(lamps)), np.zeros(len(lamps))
        for batch in self.batches.values():
            result = batch.run(specimens)
            self.runs += len(specimens)
            trips_k = trip_margins_k(self.lamp, batch.ready.plant, result.peak_c)
            least_k = np.minimum(result.margin_k, trips_k).reshape(shape).min(axis=1)
            margin_k = np.minimum(margin_k, least_k)
            delivered += result.light_lm_s.sum(axis=1).reshape(shape)[:, 0]
            asked += result.asked_lm_s.sum(axis=1).reshape(shape)[:, 0]
        return [
            Figures(float(m), share_of(float(d), float(a)), None)
            for m, d, a in zip(margin_k, delivered, asked, strict=True)
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
        """How far figures are from it: 0 where all is given, 1 and more where limits are not.

        What was not looked at counts as given.
        """
        if not figures.margin_k >= self.guard_k:
            return 1.0 + min(self.guard_k - figures.margin_k, 1e3)
        seen = figures.seen
        if seen is None:
            return 0.0
        over = max(0.0, seen.step - self.step) + max(0.0, seen.fall - self.fall)
        over += max(0, seen.turns - self.turns + 1) / 10.0
        return over / (1.0 + over)

    def cost(self, figures: Figures) -> float:
        """What a search makes small: first what is lacking, then the light that is missing."""
        lacking = self.lacking(figures)
        return 1.0 + lacking if lacking > 0.0 else 1.0 - _known(figures.light)


def _known(light: float) -> float:
    return light if math.isfinite(light) else 1.0
