"""The parts of many units of one lamp, drawn within its tolerances.

Every number is a function of the seed, the unit's number and the name of its table, and of nothing
else: a unit is the same whichever others are drawn, and so is a part whatever else varies. The
normal score of a draw that belongs to a group g of correlation r is

    z = sqrt(r) z_g + sqrt(1 - r) z_own,

so that any two of the group have the correlation r (a Gaussian copula), and its value is the
quantile of its law at Phi(z).
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.compiled import compiled
from derate.errors import InputError
from derate.lamp.course import Course
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.tolerances import EXACT
from derate.lamp.variation import variations
from derate.lamp.varying import AIRFLOW, AMBIENT, OF_PROFILE
from derate.loop.quantile import values_of
from derate.sensing.noise import gaussian

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

OF_PARTS = 1 << 31
"""Set in the ``use`` of every random number here, and in that of no other."""


@dataclass(frozen=True, eq=False)
class Draws:
    """Units U of a lamp as drawn with ``seed``.

    ``names`` (P): draws, ``scores`` (U, P): their standard normal scores; ``keys`` (K): the key
    paths that they move, ``values`` (U, K): what stands there, in the unit of the key. A draw
    moves one key, or several in full correlation. "ambient" is a shift [K] of every ambient and
    "airflow" a factor [-] on that of the profile. ``exact``: changes that all units share.
    """

    units: Whole
    seed: int
    names: tuple[str, ...]
    scores: Array
    keys: tuple[str, ...]
    values: Array
    exact: dict[str, object]

    def of(self, unit: int) -> dict[str, float]:
        """What stands at every key of one unit; KeyError for one that was not drawn."""
        (rows,) = np.nonzero(self.units == unit)
        if len(rows) == 0:
            raise KeyError(f"unit {unit} was not drawn")
        return dict(zip(self.keys, self.values[rows[0]].tolist(), strict=True))


def draw(lamp: Lamp, units: ArrayLike, seed: int = 0) -> Draws:
    """The parts of ``units``, a range or numbers from 0, of a lamp within its tolerances."""
    some = variations(lamp)
    numbers = np.atleast_1d(np.asarray(units)).astype(np.int64)
    own = _scores(numbers, seed, [one.name for one in some])
    shared = _scores(numbers, seed, [f"group {one.group}" for one in some])
    together = np.array([one.correlation for one in some])
    scores = np.sqrt(together) * shared + np.sqrt(1.0 - together) * own
    moved = [(p, one, limits) for p, one in enumerate(some) for limits in one.keys]
    values = np.empty((len(numbers), len(moved)))
    for k, (p, one, limits) in enumerate(moved):
        values[:, k] = values_of(one, limits, scores[:, p])
    return Draws(
        numbers,
        seed,
        tuple(one.name for one in some),
        scores,
        tuple(limits.key for *_, limits in moved),
        values,
        _exact(lamp),
    )


def unit_lamp(lamp: Lamp, draws: Draws, unit: int) -> Lamp:
    """One drawn unit: ``lamp`` with other values at the drawn keys, and nothing left to vary.

    The settings of its firmware are those of ``lamp``: what its sensors' tables of tolerances allow
    for, and the reading table, stay, and deviations are not known to them. Raises InputError for a
    unit that cannot be, as an unbounded law may bring about.
    """
    values = {key: value for key, value in draws.of(unit).items() if key not in OF_PROFILE}
    try:
        return lamp.with_changes(draws.exact | values)
    except InputError as error:
        raise InputError(f"unit {unit} of seed {draws.seed}: {error}") from None


def unit_profile(profile: Profile, draws: Draws, unit: int) -> Profile:
    """The profile where one drawn unit is used: its ambients shifted, its airflow scaled."""
    drawn = draws.of(unit)
    shift_k = drawn.get(AMBIENT.key, AMBIENT.value)
    factor = drawn.get(AIRFLOW.key, AIRFLOW.value)
    if isinstance(profile.ambient, dict):
        ambient: object = {name: _moved(one, shift_k) for name, one in profile.ambient.items()}
    else:
        ambient = _moved(profile.ambient, shift_k)
    airflow = _moved(profile.airflow, factor=factor)
    return profile.model_copy(update={"ambient": ambient, "airflow": airflow})


def _exact(lamp: Lamp) -> dict[str, object]:
    """The changes that leave nothing to vary, and what the firmware's fault windows allow for."""
    changes = dict(EXACT)
    for sensor in lamp.sensors:
        allowed = lamp.toleranced(sensor).tolerance
        if allowed != lamp.sensors[sensor].tolerance:
            changes[f"sensors.{sensor}.tolerance"] = allowed.model_dump(by_alias=True)
    return changes


def _moved(course: Course[float], shift: float = 0.0, *, factor: float = 1.0) -> Course[float]:
    knots = tuple(factor * value + shift for value in course.knots)
    return course.model_copy(update={"knots": knots})


def _scores(units: Whole, seed: int, names: Sequence[str]) -> Array:
    """Standard normal numbers of (seed, unit, name), shape (U, names)."""
    digests = [hashlib.sha256(name.encode()).digest() for name in names]
    ticks = np.array([int.from_bytes(digest[:4]) for digest in digests], np.int64)
    uses = np.array([int.from_bytes(digest[4:8]) | OF_PARTS for digest in digests], np.int64)
    return np.asarray(_gaussians(seed, units, ticks, uses))


@compiled
def _gaussians(seed: int, units: Whole, ticks: Whole, uses: Whole) -> Array:
    found = np.empty((len(units), len(ticks)))
    for i in range(len(units)):
        for j in range(len(ticks)):
            found[i, j] = gaussian(seed, units[i], ticks[j], uses[j])
    return found
