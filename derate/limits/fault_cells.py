"""One fault at one moment: how soon it is seen, what is driven then, and whether limits held."""

import functools
import pickle
from dataclasses import dataclass

import numpy as np

from derate.control import command
from derate.lamp.lamp import Lamp
from derate.limits.cutout_alone import slowest
from derate.limits.fault_kinds import Mission
from derate.loop.batch import Batch, Specimen
from derate.loop.body import body_for
from derate.loop.merit import channel_merits, node_merits
from derate.loop.timeline import Recording, Timeline
from derate.sensing.chain import chains_of
from derate.study.spread_units import Place, places_of

LATE = 0.1
"""Share of the time after the fault, its end, over which the duty is told."""


@dataclass(frozen=True)
class Saved:
    """The same with the cut-outs, the slowest of their kind: when one opened, and what it left.

    ``opened_s`` [s] after the fault, None where none opened; ``junctions_hold``: whether no
    junction passed its limit.
    """

    opened_s: float | None
    junctions_hold: bool
    place: Place
    peak_c: float
    margin_k: float


@dataclass(frozen=True)
class Cell:
    """What came of a fault with the controller alone.

    ``seen_s`` [s] after the fault, None where no flag was raised; ``flag``: which, in words;
    ``let_go``: the flag was taken back though the fault is still there;
    ``duty``: of the channel driven most, towards the end [-]; ``junction_c``: of the hottest
    junction; ``place``: nearest to its limit or farthest above it, with ``peak_c`` and ``margin_k``
    [K]. ``saved``: the same with cut-outs where a limit was passed and the lamp has any.
    """

    seen_s: float | None
    flag: str
    let_go: bool
    duty: float
    junction_c: float
    place: Place
    peak_c: float
    margin_k: float
    saved: Saved | None

    @property
    def held(self) -> bool:
        """Whether every limit held."""
        return self.margin_k >= 0.0


class Bench:
    """A lamp on which faults are tried, made ready once."""

    def __init__(self, lamp: Lamp) -> None:
        self.alone = lamp.with_changes({"cutouts": None})
        self.cut = slowest(lamp) if lamp.cutouts else None
        self.chains = chains_of(lamp)
        self.places = places_of(lamp)

    def cell(self, mission: Mission) -> Cell:
        """Run a mission with the controller alone, and where it fails with the cut-outs too."""
        recording = self._alone(mission)
        place, peak_c, margin_k = self._nearest(self.alone, recording)
        time_s, status = recording.rows["time_s"][:, 0], recording.rows["status"][:, 0]
        seen = np.flatnonzero((status.astype(int) & command.FAULT != 0) & (time_s >= mission.at_s))
        saved = None
        if margin_k < 0.0 and self.cut is not None:
            saved = self._saved(self.cut, mission)
        merits = channel_merits(self.alone, recording)
        return Cell(
            seen_s=float(time_s[seen[0]]) - mission.at_s if len(seen) else None,
            flag=command.fault_name(int(status[seen[0]])) if len(seen) else "",
            let_go=bool(len(seen)) and not int(status[-1]) & command.FAULT,
            duty=_late_duty(recording, mission),
            junction_c=max(one.peak_junction_c for one in merits.values()),
            place=place,
            peak_c=peak_c,
            margin_k=margin_k,
            saved=saved,
        )

    def _saved(self, lamp: Lamp, mission: Mission) -> Saved:
        recording = Timeline(lamp, mission.profile, body_for(lamp, self.chains), self.chains).run()
        opened = [one.at_s for one in recording.switchings if one.opened]
        return Saved(
            opened[0] - mission.at_s if opened else None,
            all(one.margin_k >= 0.0 for one in channel_merits(lamp, recording).values()),
            *self._nearest(lamp, recording),
        )

    def _alone(self, mission: Mission) -> Recording:
        """Without cut-outs the batch clock can run it, and does so sooner."""
        batch = Batch(self.alone, mission.profile, threads=1)
        return batch.run([Specimen(0, self.alone)], trace=[0]).recordings[0]

    def _nearest(self, lamp: Lamp, recording: Recording) -> tuple[Place, float, float]:
        margins_k = [one.margin_k for one in channel_merits(lamp, recording).values()]
        margins_k += [one.margin_k for one in node_merits(lamp, recording).values()]
        margin_k, place = min(zip(margins_k, self.places, strict=True))
        return place, place.limit_c - margin_k, margin_k


def _late_duty(recording: Recording, mission: Mission) -> float:
    """Mean duty of the channel driven most at the end of the mission [-]."""
    dt_s, duties = recording.intervals["dt_s"][:, 0], recording.intervals["duties"]
    begin_s = np.cumsum(dt_s) - dt_s
    end_s = mission.profile.duration_s
    late = begin_s >= end_s - LATE * (end_s - mission.at_s)
    if not late.any():
        return float(duties[-1].max())
    return float(np.average(duties[late], axis=0, weights=dt_s[late]).max())


def cell_of(packed: bytes, mission: Mission) -> Cell:
    """The cell of a mission of a packed lamp, as a process is asked for it."""
    return _bench_of(packed).cell(mission)


@functools.lru_cache(maxsize=1)
def _bench_of(packed: bytes) -> Bench:
    """The lamp of a worker, made ready at its first mission."""
    return Bench(pickle.loads(packed))
