"""Part tolerances: thousands of units of one lamp, drawn and run through a mission profile."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.lamp.doubts import doubts
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.variation import Variation, variations
from derate.loop.units import Draws, draw
from derate.plant.surface.doubts import doubts_of_surfaces
from derate.study.chance import Chance, chance
from derate.study.importance import Importance, importance
from derate.study.spread_runners import Runner, here
from derate.study.spread_units import Figures, Job, Place, joined, places_of

Array = NDArray[np.float64]
QUANTILES = (0.01, 0.05, 0.5, 0.95, 0.99)
WORST = 5
GUARD_K = 3.0
"""Units nearer to a limit than this are counted beside those over it."""


@dataclass(frozen=True)
class Distribution:
    """One figure over all units: its quantiles, and the worst unit's value.

    ``quantiles``: at ``QUANTILES``.
    """

    quantiles: tuple[float, ...]
    worst: float


@dataclass(frozen=True, eq=False)
class Spread:
    """Units of a lamp in a profile.

    ``asked``: units that were wanted, ``figures``: of those that were run; ``peaks``: the
    distribution at each of ``places``; ``over``, ``over_each``: units over any limit, over that of
    each place; ``tripped``: units that would have opened a cut-out, None where there is none;
    ``near``: units within ``guard_k`` of a limit that pass none; ``importances``: what
    the margin, the share of light and the light depend on, None where it cannot be told;
    ``worst``: the units of least margin, the least first; ``draws``: of the units that were run.
    """

    lamp: Lamp
    profile: Profile
    profile_name: str
    seed: int
    asked: int
    guard_k: float
    places: tuple[Place, ...]
    figures: Figures
    drawn: tuple[Variation, ...]
    draws: Draws
    peaks: tuple[Distribution, ...]
    margin_k: Distribution
    share: Distribution
    light_lm_h: Distribution
    throttled_s: Distribution
    reversals: Distribution
    over: Chance
    over_each: tuple[Chance, ...]
    tripped: Chance | None
    near: int
    importances: dict[str, Importance | None]
    worst: tuple[int, ...]
    warnings: tuple[str, ...]
    source: dict[str, str | int | None]

    @property
    def held(self) -> bool:
        """Whether no unit that was run passed a limit."""
        return self.over.over == 0


def study_spread(
    lamp: Lamp,
    profile: Profile,
    *,
    profile_name: str = "profile",
    units: int = 1000,
    seed: int = 0,
    guard_k: float = GUARD_K,
    runner: Runner = here,
    doing: Callable[[str], object] = lambda doing: None,
    stop: Callable[[], bool] = lambda: False,
) -> Spread:
    """Draw ``units`` units of ``lamp`` within its tolerances and run them through ``profile``.

    Unit and noise are a function of ``seed`` and the unit's number, 0 to units - 1. ``runner``
    chooses where they are run, with the same result; ``doing`` is told how far it is; once
    ``stop`` returns true, what is done so far is the result.

    Raises InputError for a lamp of one unit and for a unit that cannot be,
    KeyboardInterrupt when stopped before anything was done.
    """
    if lamp.title.unit is not None:
        due = "a lamp whose units differ, without that key"
        raise InputError(
            f"{lamp.source or lamp.name}: lamp.unit: found {lamp.title.unit}, due {due}"
        )
    doing(f"drawing {units} units")
    job = Job(lamp, profile, seed)
    done: list[Figures] = []
    for part in runner(job, units):
        done.append(part)
        doing(f"{sum(len(one.units) for one in done)} of {units} units have run")
        if stop():
            break
    if not done:
        raise KeyboardInterrupt
    doing("looking for what matters most")
    return _told(job, joined(done), profile_name, units, guard_k)


def _told(job: Job, figures: Figures, profile_name: str, asked: int, guard_k: float) -> Spread:
    """What the figures tell."""
    lamp, profile, seed = job
    places, drawn = places_of(lamp), variations(lamp)
    draws = draw(lamp, figures.units, seed)
    scores = draws.scores
    limits_c = np.array([place.limit_c for place in places])
    over_each = (figures.peak_c > limits_c).sum(axis=0)
    count, margin_k = len(figures.units), figures.margin_k
    return Spread(
        lamp=lamp,
        profile=profile,
        profile_name=profile_name,
        seed=seed,
        asked=asked,
        guard_k=guard_k,
        places=places,
        figures=figures,
        drawn=drawn,
        draws=draws,
        peaks=tuple(_distribution(figures.peak_c[:, i], np.max) for i in range(len(places))),
        margin_k=_distribution(margin_k, np.min),
        share=_distribution(figures.share, np.min),
        light_lm_h=_distribution(figures.light_lm_h, np.min),
        throttled_s=_distribution(figures.throttled_s, np.max),
        reversals=_distribution(figures.reversals.astype(float), np.max),
        over=chance(int((margin_k < 0).sum()), count),
        over_each=tuple(chance(int(over), count) for over in over_each),
        tripped=chance(int((figures.trip_margin_k <= 0).sum()), count) if lamp.cutouts else None,
        near=int(((margin_k >= 0) & (margin_k < guard_k)).sum()),
        importances={
            "margin": importance(margin_k, scores, drawn, seed),
            "share": importance(figures.share, scores, drawn, seed),
            "light": importance(figures.light_lm_h, scores, drawn, seed),
        },
        worst=tuple(figures.units[np.argsort(margin_k, kind="stable")[:WORST]].tolist()),
        warnings=(*_warnings(drawn, figures), *doubts(lamp), *doubts_of_surfaces(lamp)),
        source={
            "lamp_file": lamp.source.name if lamp.source else None,
            "lamp_sha256": lamp.sha256,
            "profile": profile_name,
            "seed": seed,
            "units": count,
        },
    )


def _distribution(value: Array, worst: Callable[[Array], float]) -> Distribution:
    quantiles = np.quantile(value, QUANTILES)
    return Distribution(tuple(quantiles.tolist()), float(worst(value)))


def _warnings(drawn: tuple[Variation, ...], figures: Figures) -> Iterator[str]:
    if not drawn:
        yield (
            "nothing in the lamp file varies from unit to unit, so that the units differ by noise "
            "alone; tables [tolerances.NAME] say what varies"
        )
    if ran_away := int(figures.ran_away.sum()):
        yield f"{ran_away} of the units ran away; their peaks stand where the run was stopped"
