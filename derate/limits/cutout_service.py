"""Whether the cut-outs stay out of the way in service, at every corner of the tolerances.

Service is every profile of the file, its airflow included, without the faults in it; and all
channels asked for at full in the hottest air with the least airflow, until all has warmed through.
The controller is the real one. For each cut-out all parts go to the end of their tolerance at which
its element gets hottest. That is a search among corners and no bound: a history that is in no
profile may be worse.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.surroundings import Surroundings
from derate.loop.batch import Batch
from derate.plant.network import element_of
from derate.plant.plant import Plant
from derate.study.tune_units import TunedUnit, extreme_unit, nominal_unit

Array = NDArray[np.float64]

STANDING = "full light in the hottest and stillest air"
"""The mission that stands for every long one."""
WARMED = 5.0
"""Slowest time constants after which a lamp has warmed through."""
SHORTEST_S, LONGEST_S = 60.0, 7200.0


@dataclass(frozen=True)
class Service:
    """A cut-out in service: its element's highest temperature against its least trip temperature.

    ``nominal_c``: of the lamp as its file says it; ``peak_c``: over all corners too, in ``unit``
    and ``mission``. ``margin_k`` [K]: what is left to the least trip temperature.
    """

    name: str
    least_trip_c: float
    nominal_c: float
    peak_c: float
    margin_k: float
    unit: str
    mission: str

    @property
    def stays_closed(self) -> bool:
        """Whether none of its kind would open."""
        return self.margin_k > 0.0


def missions_of(lamp: Lamp, around: Surroundings) -> dict[str, Profile]:
    """The profiles of service by their names."""
    found = {name: _sound(profile) for name, profile in lamp.profiles.items()}
    plant = Plant(lamp)
    plant.configure(around.least_airflow, {})
    warm_s = min(max(WARMED * plant.slowest_s, SHORTEST_S), LONGEST_S)
    found[STANDING] = Profile.model_validate(
        {
            "duration": float(round(warm_s)),
            "ambient": around.hottest_c,
            "airflow": around.least_airflow,
            "request": dict.fromkeys(lamp.channels, 1.0),
        }
    )
    return found


def in_service(
    lamp: Lamp, around: Surroundings, *, doing: Callable[[str], object] = lambda doing: None
) -> tuple[Service, ...]:
    """Every cut-out of a lamp in service; ``doing`` is told what is being looked at.

    Raises as ``Batch`` does.
    """
    missions = missions_of(lamp, around)
    batches = {name: Batch(lamp, profile) for name, profile in missions.items()}
    nominal = nominal_unit(lamp)
    found = []
    for name in lamp.cutouts:
        node = Plant(lamp).node_index(element_of(lamp, name))
        doing(f"cut-out {name} in service")
        looked = _Looked(batches, lamp, node)
        corner = extreme_unit(lamp, looked.headroom_k)
        units = [nominal, *([corner] if corner else [])]
        found.append(_service(lamp, name, looked, units))
    return tuple(found)


class _Looked:
    """The highest temperature of one node in every mission."""

    def __init__(self, batches: dict[str, Batch], lamp: Lamp, node: int) -> None:
        self.batches, self.lamp, self.node = batches, lamp, node

    def peaks_c(self, units: Sequence[TunedUnit]) -> dict[str, Array]:
        """By mission, one for each unit [degC]."""
        specimens = [unit.with_firmware(self.lamp) for unit in units]
        return {
            name: batch.run(specimens).peak_c[:, self.node] for name, batch in self.batches.items()
        }

    def headroom_k(self, units: Sequence[TunedUnit]) -> Array:
        """What falls as the node gets hotter."""
        highest: Array = np.max(list(self.peaks_c(units).values()), axis=0)
        return -highest


def _service(lamp: Lamp, name: str, looked: _Looked, units: Sequence[TunedUnit]) -> Service:
    peaks_c = looked.peaks_c(units)
    mission = max(peaks_c, key=lambda one: float(peaks_c[one].max()))
    worst = int(np.argmax(peaks_c[mission]))
    peak_c, least_trip_c = float(peaks_c[mission][worst]), lamp.cutouts[name].least_trip_c
    return Service(
        name,
        least_trip_c,
        float(max(one[0] for one in peaks_c.values())),
        peak_c,
        least_trip_c - peak_c,
        units[worst].name,
        mission,
    )


def _sound(profile: Profile) -> Profile:
    """A profile without its faults; what happens to the air stays."""
    events = tuple(event for event in profile.events if event.kind == "airflow")
    return profile.model_copy(update={"events": events})
