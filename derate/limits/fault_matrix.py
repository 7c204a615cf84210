"""Every fault at every moment, what of it hardware has to save, and what shows early.

The parts are independent of each other, and are shared out to processes together.
"""

import functools
import pickle
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from derate.lamp.doubts import doubts
from derate.lamp.lamp import Lamp
from derate.limits.cutout import CutoutStudy, study_cutouts
from derate.limits.early import FACTORS, Detection, detections, rates_with
from derate.limits.fault_cells import Cell, cell_of
from derate.limits.fault_kinds import MOMENTS, Fault, Missions, Moment, faults_of
from derate.limits.processes import shared_out
from derate.limits.surroundings import Surroundings, surroundings_of
from derate.plant.surface.doubts import doubts_of_surfaces
from derate.study.spread_units import places_of

STARTS: Final = 4
"""Temperatures of the whole lamp from which one without heat sink is switched on."""
BELOW_K: Final = 2.0
"""The hottest of them stays so far below the nearest limit."""


@dataclass(frozen=True)
class Row:
    """A fault and what came of it at each moment of ``MOMENTS``."""

    fault: Fault
    cells: tuple[Cell, ...]

    def failed(self) -> tuple[Moment, ...]:
        """The moments at which a limit was passed."""
        return tuple(m for m, cell in zip(MOMENTS, self.cells, strict=True) if not cell.held)

    def unsaved(self) -> tuple[Moment, ...]:
        """Those at which thermal control ought to have held it."""
        return tuple(moment for moment in self.failed() if self.fault.ought(moment))


@dataclass(frozen=True, eq=False)
class FaultStudy:
    """``rows`` of the fault matrix; ``starts``: of a lamp without heat sink switched on at full.

    ``starts``: the temperature of the whole lamp [degC] and what came of it; ``early``: whether the
    missing heat sink shows in the reading; ``cutouts``: None where the lamp has none.
    """

    lamp: Lamp
    around: Surroundings
    rows: tuple[Row, ...]
    starts: tuple[tuple[float, Cell], ...]
    early: tuple[Detection, ...]
    cutouts: CutoutStudy | None
    warnings: tuple[str, ...]
    source: dict[str, Any]

    @property
    def held(self) -> bool:
        """Whether every limit held wherever thermal control ought to hold it."""
        return not any(row.unsaved() for row in self.rows)

    @property
    def survives(self) -> bool:
        """Whether control holds every limit without heat sink, from every start temperature."""
        return all(cell.held for _, cell in self.starts)


def study_faults(
    lamp: Lamp,
    *,
    workers: int | None = None,
    seed: int = 0,
    doing: Callable[[str], object] = lambda doing: None,
    stop: Callable[[], bool] = lambda: False,
) -> FaultStudy:
    """Try every fault on a lamp, in as many processes as there are cores by default.

    ``doing`` is told how far it is; once ``stop`` returns true, KeyboardInterrupt ends it. Raises
    InputError for an impossible lamp, SurroundingsError without a C compiler or where processes are
    lost.
    """
    doing("making missions")
    around = surroundings_of(lamp)
    missions, faults, packed = Missions(lamp, around), faults_of(lamp, around), pickle.dumps(lamp)
    starts_c = _starts_c(lamp, around)
    tasks: list[Callable[[], Any]] = []
    if lamp.cutouts:
        tasks.append(functools.partial(study_cutouts, lamp, around))
    drawn = pickle.dumps((lamp, around, seed))
    factors = FACTORS if around.joint is not None else ()
    tasks += [functools.partial(rates_with, drawn, factor) for factor in factors]
    tried = [missions.at(moment, fault) for fault in faults for moment in MOMENTS]
    missing = next((one for one in faults if one.name == "heat sink missing"), None)
    tried += [missions.from_start(missing, at_c) for at_c in starts_c if missing is not None]
    tasks += [functools.partial(cell_of, packed, mission) for mission in tried]
    found = []
    for one in shared_out(_called, tasks, workers):
        found.append(one)
        if stop():
            raise KeyboardInterrupt
        doing(f"{len(found)} of {len(tasks)} parts done")
    cutouts = found.pop(0) if lamp.cutouts else None
    rates, cells = found[: len(factors)], found[len(factors) :]
    many = len(MOMENTS)
    return FaultStudy(
        lamp=lamp,
        around=around,
        rows=tuple(
            Row(fault, tuple(cells[i * many : (i + 1) * many])) for i, fault in enumerate(faults)
        ),
        starts=tuple(zip(starts_c, cells[many * len(faults) :], strict=False)),
        early=detections(rates),
        cutouts=cutouts,
        warnings=(*doubts(lamp), *doubts_of_surfaces(lamp)),
        source={
            "lamp_file": lamp.source.name if lamp.source else None,
            "lamp_sha256": lamp.sha256,
            "seed": seed,
        },
    )


def _called(task: Callable[[], Any]) -> Any:
    return task()


def _starts_c(lamp: Lamp, around: Surroundings) -> list[float]:
    """From the coldest air to just below the nearest limit [degC]."""
    hottest_c = min(place.limit_c for place in places_of(lamp)) - BELOW_K
    warmest_c = max(hottest_c, around.hottest_c)
    return [float(at_c) for at_c in np.linspace(around.coldest_c, warmest_c, STARTS).round(1)]
