"""The independent cut-out judged: out of the way in service, and enough when all else fails.

Both are asked at the corner of the tolerances that is worst for the question, and where one of them
is not met, it is looked for the trip temperatures at which both would be.
"""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.limits.cutout_alone import Outcome, Stuck, cases_of, slowest
from derate.limits.cutout_service import Service, in_service
from derate.limits.surroundings import Surroundings
from derate.study.tune_units import TunedUnit, extreme_unit

Array = NDArray[np.float64]

EXACT_K = 0.05
"""A trip temperature is looked for until it is known to this."""
FARTHEST_K = 60.0
"""It is looked for so far from the one in the file."""


@dataclass(frozen=True)
class Window:
    """Trip temperatures of one cut-out [degC], its tolerance as in the file.

    From ``from_c`` on it stays closed in service, up to ``all_c`` it alone holds every limit, up to
    ``junctions_c`` those of the junctions; None where no trip temperature does.
    """

    from_c: float
    all_c: float | None
    junctions_c: float | None


@dataclass(frozen=True)
class CutoutStudy:
    """``service`` of each cut-out; ``alone`` and ``corner``: the worst of each place.

    ``alone`` of the lamp as its file says it, ``corner`` at the corners of its tolerances that are
    worst for the junction and for the other place nearest to its limit; the same where nothing
    varies. ``window``: of a lamp with a single cut-out, None otherwise.
    """

    service: tuple[Service, ...]
    alone: tuple[Outcome, ...]
    corner: tuple[Outcome, ...]
    window: Window | None

    @property
    def stays_closed(self) -> bool:
        """Whether none opens in service."""
        return all(one.stays_closed for one in self.service)

    @property
    def holds(self) -> bool:
        """Whether they alone hold every limit, at the corner too."""
        return all(one.holds for one in (*self.alone, *self.corner))

    @property
    def holds_junctions(self) -> bool:
        """Whether they alone hold the limits of all junctions."""
        both = (*self.alone, *self.corner)
        return all(one.holds for one in both if one.place.junction)


def study_cutouts(
    lamp: Lamp, around: Surroundings, *, doing: Callable[[str], object] = lambda doing: None
) -> CutoutStudy:
    """Both checks of every cut-out of a lamp that has any; ``doing`` is told how far it is."""
    service = in_service(lamp, around, doing=doing)
    doing("cut-out alone, the controller stuck at full")
    stuck = Stuck(slowest(lamp), around)
    alone = stuck.worst(cases_of(lamp, around))
    units = _corners(lamp, around, alone)
    corner = _worst_of([_at(lamp, around, unit) for unit in units]) if units else alone
    window = None
    if len(lamp.cutouts) == 1:
        doing("trip temperatures that would do")
        window = _window(lamp, around, service[0], (*alone, *corner), units)
    return CutoutStudy(service, alone, corner, window)


def _corners(lamp: Lamp, around: Surroundings, alone: Sequence[Outcome]) -> list[TunedUnit]:
    """The corners worst for the nearest junction and the nearest other place."""
    kinds = [[one for one in alone if one.place.junction is junction] for junction in (True, False)]
    worst = [min(kind, key=lambda one: one.margin_k) for kind in kinds if kind]

    def margin_k(place: Outcome) -> Callable[[Sequence[TunedUnit]], Array]:
        return lambda units: _margins_k(lamp, around, place, units)

    found = [extreme_unit(lamp, margin_k(place)) for place in worst if place.margin_k < np.inf]
    return [unit for unit in found if unit is not None]


def _worst_of(corners: Sequence[Sequence[Outcome]]) -> tuple[Outcome, ...]:
    """Of each place the outcome of least margin."""
    return tuple(min(of, key=lambda one: one.margin_k) for of in zip(*corners, strict=True))


def _margins_k(
    lamp: Lamp, around: Surroundings, worst: Outcome, units: Sequence[TunedUnit]
) -> Array:
    """The margin of the worst place in the worst case, unit by unit."""
    found = []
    for unit in units:
        case = dataclasses.replace(
            worst.case,
            ambient_c=worst.case.ambient_c + unit.shift_k,
            airflow=worst.case.airflow * unit.airflow,
        )
        outcomes = Stuck(slowest(unit.lamp), around).worst([case])
        found.append(next(one.margin_k for one in outcomes if one.place == worst.place))
    return np.array(found)


def _at(lamp: Lamp, around: Surroundings, unit: TunedUnit) -> tuple[Outcome, ...]:
    cases = cases_of(lamp, around, unit.shift_k, unit.airflow)
    return Stuck(slowest(unit.lamp), around).worst(cases)


def _window(
    lamp: Lamp,
    around: Surroundings,
    service: Service,
    outcomes: Sequence[Outcome],
    units: Sequence[TunedUnit],
) -> Window:
    """From where on it stays closed, up to where it is enough.

    The latter is looked for among the cases that were worst for a place.
    """
    (cutout,) = lamp.cutouts.values()
    cases = list(dict.fromkeys(one.case for one in outcomes))
    # without missions a trip may be tried that every one of them would reach
    lamps = [one.with_changes({"profiles": None}) for one in (lamp, *(u.lamp for u in units))]

    def least_k(by_k: float) -> tuple[float, float]:
        found = [one for each in lamps for one in Stuck(slowest(each, by_k), around).worst(cases)]
        junctions = [one.margin_k for one in found if one.place.junction]
        return min(one.margin_k for one in found), min(junctions)

    every = _highest_k(lambda by_k: least_k(by_k)[0])
    junctions = _highest_k(lambda by_k: least_k(by_k)[1])
    return Window(
        service.peak_c + cutout.tolerance_k,
        None if every is None else cutout.trip_c + every,
        None if junctions is None else cutout.trip_c + junctions,
    )


def _highest_k(margin_k: Callable[[float], float]) -> float | None:
    """The largest shift of the trip at which the margin, which falls with it, is not below 0 [K].

    None where even the lowest does not do; the farthest looked at where all do.
    """
    low, high = -FARTHEST_K, FARTHEST_K
    if margin_k(0.0) >= 0.0:
        low = 0.0
        if margin_k(high) >= 0.0:
            return high
    else:
        high = 0.0
        if margin_k(low) < 0.0:
            return None
    while high - low > EXACT_K:
        middle = (low + high) / 2.0
        low, high = (middle, high) if margin_k(middle) >= 0.0 else (low, middle)
    return low
