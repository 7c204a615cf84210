"""Drawn units run through a profile, and of each the few figures that are kept."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.lamp.profile import Profile
from derate.lamp.varying import AIRFLOW, AMBIENT
from derate.loop.batch import Batch, Specimen
from derate.loop.cutout import trip_margins_k
from derate.loop.merit import SECONDS_PER_HOUR
from derate.loop.units import draw, unit_lamp
from derate.plant.plant import Plant

Array = NDArray[np.float64]


class Place(NamedTuple):
    """Something with a limit: the junctions of a channel, or another place of the lamp."""

    name: str
    junction: bool
    limit_c: float


@dataclass(frozen=True, eq=False)
class Figures:
    """What is kept of units U, one row each, at places L with limits.

    ``peak_c`` (U, L): highest temperature of the place, ripple included; ``margin_k`` (U): least
    distance of one to its limit; ``light_lm_h``, ``share`` [-]: light, and what part of the light
    asked for it is; ``throttled_s``: how long light was held back; ``reversals``: turns of the
    limit while no input changes; ``ran_away``: whether the unit ran away; ``trip_margin_k``: what
    was left to the least trip temperature of a cut-out, inf without one.
    """

    units: NDArray[np.int64]
    peak_c: Array
    margin_k: Array
    light_lm_h: Array
    share: Array
    throttled_s: Array
    reversals: NDArray[np.int64]
    ran_away: NDArray[np.bool_]
    trip_margin_k: Array


class Job(NamedTuple):
    """What is run: a nominal lamp with tolerances, in a profile, with a seed."""

    lamp: Lamp
    profile: Profile
    seed: int


def places_of(lamp: Lamp) -> tuple[Place, ...]:
    """Everything with a limit, junctions first, in the order of the lamp file."""
    junctions = (Place(name, True, one.junction_limit_c) for name, one in lamp.channels.items())
    others = (Place(one.name, False, one.limit_c) for one in limited_places(lamp))
    return (*junctions, *others)


class Units:
    """A job made ready once, whose units may then be run share by share.

    ``share``: units that are run before it is told how far we are.

    Raises InputError where the batch clock cannot run the lamp.
    """

    share = 128

    def __init__(self, job: Job, threads: int | None = None) -> None:
        lamp, profile, seed = job
        self.seed = seed
        self.batch = Batch(lamp, profile, seed=seed, threads=threads)
        # without its profiles a lamp is made in half the time
        self.lamp = lamp.with_changes({"profiles": None})
        plant = Plant(lamp)
        self.limits_c = np.array([place.limit_c for place in places_of(lamp)])
        self.nodes = [plant.junctions[name] for name in lamp.channels]
        self.nodes += [
            np.array([plant.node_index(node) for node in one.nodes]) for one in limited_places(lamp)
        ]

    def figures(self, units: Sequence[int]) -> Figures:
        """Draw the units and run them; raises InputError for one that cannot be."""
        draws = draw(self.lamp, units, self.seed)
        specimens = []
        for unit in map(int, draws.units):
            drawn = draws.of(unit)
            specimens.append(
                Specimen(
                    unit,
                    unit_lamp(self.lamp, draws, unit),
                    shift_k=drawn.get(AMBIENT.key, AMBIENT.value),
                    airflow=drawn.get(AIRFLOW.key, AIRFLOW.value),
                )
            )
        found = self.batch.run(specimens)
        peak_c = np.stack([found.peak_c[:, nodes].max(axis=1) for nodes in self.nodes], axis=1)
        light, asked = found.light_lm_s.sum(axis=1), found.asked_lm_s.sum(axis=1)
        return Figures(
            units=draws.units,
            peak_c=peak_c,
            margin_k=(self.limits_c - peak_c).min(axis=1),
            light_lm_h=light / SECONDS_PER_HOUR,
            share=np.divide(light, asked, out=np.full(len(light), np.nan), where=asked > 0),
            throttled_s=found.throttled_s,
            reversals=found.reversals,
            ran_away=~np.isnan(found.ran_away_s),
            trip_margin_k=trip_margins_k(self.lamp, self.batch.ready.plant, found.peak_c),
        )


def joined(parts: Iterable[Figures]) -> Figures:
    """All the shares as one, in the order of the units' numbers."""
    shares = list(parts)
    arrays = {
        field.name: np.concatenate([getattr(share, field.name) for share in shares])
        for field in fields(Figures)
    }
    order = np.argsort(arrays["units"], kind="stable")
    return Figures(**{name: array[order] for name, array in arrays.items()})
