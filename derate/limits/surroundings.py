"""The air that a lamp file knows of, and the joint through which all its heat has to go."""

from dataclasses import dataclass

from pydantic import ValidationError

from derate.lamp.agreement import check_profile
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile

MISSING = 100.0
"""Factor on the resistance of the joint where the heat sink is missing: an air gap of millimetres
in place of a tenth of one of paste (invented order of size)."""
DEFAULT_C = 25.0
"""Ambient [degC] of a lamp without profiles."""


@dataclass(frozen=True)
class Surroundings:
    """Ambients [degC] and airflow factors [-] between which a lamp is used, by its profiles.

    ``stopped``: airflow with the fan or the wind gone, 0, or ``least_airflow`` where the lamp would
    shed no heat at all without any; ``joint``: the link or interface that all heat passes, None
    where there is none with a name.
    """

    coldest_c: float
    hottest_c: float
    least_airflow: float
    most_airflow: float
    stopped: float
    joint: str | None

    @property
    def missing(self) -> dict[str, float]:
        """The joint as it is without heat sink, for ``Plant.configure``."""
        return {} if self.joint is None else {self.joint: MISSING}


def surroundings_of(lamp: Lamp) -> Surroundings:
    """What the profiles of a lamp say of its air; 25 degC and airflow 1 where it has none."""
    profiles = list(lamp.profiles.values())
    ambients_c = [at_c for one in profiles for at_c in one.ambients_c] or [DEFAULT_C]
    airflows = [flow for one in profiles for flow in (one.least_airflow, one.most_airflow)] or [1.0]
    return Surroundings(
        coldest_c=min(ambients_c),
        hottest_c=max(ambients_c),
        least_airflow=min(airflows),
        most_airflow=max(airflows),
        stopped=_stopped(lamp, min(airflows)),
        joint=joint_of(lamp),
    )


def joint_of(lamp: Lamp) -> str | None:
    """The named joint between two nodes that the heat of every channel has to pass.

    The interface of a board if it has a name; else the first named link without which no solder
    point has a way to an ambient.
    """
    if lamp.board is not None:
        interface = lamp.board.interface
        return interface.name if interface is not None else None
    for link in lamp.links:
        inner = not set(link.between) & set(lamp.ambients)
        if link.name and inner and not _reaches_ambient(lamp, without=link.name):
            return link.name
    return None


def _reaches_ambient(lamp: Lamp, *, without: str) -> bool:
    """Whether any solder point still has a way to an ambient."""
    joined = [set(link.between) for link in lamp.links if link.name != without]
    joined += [{part.of, lamp.outside(part.to)} for part in lamp.surfaces.values()]
    reached = {point for channel in lamp.channels for point in lamp.solder_points(channel)}
    while True:
        more = reached.union(*(ends for ends in joined if ends & reached), set())
        if more == reached:
            return bool(reached & set(lamp.ambients))
        reached = more


def _stopped(lamp: Lamp, least: float) -> float:
    still = Profile.model_validate({"duration": 60.0, "ambient": DEFAULT_C, "airflow": 0.0})
    try:
        check_profile(lamp, still)
    except ValidationError as error:
        if any("airflow" in line.get("ctx", {}).get("key", ()) for line in error.errors()):
            return least
    return 0.0
