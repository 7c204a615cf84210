"""The units that settings must hold for: the nominal lamp, and corners of its tolerances.

The margin m to a limit falls with the scores z of a unit's parts (``derate.loop.units``). With its
gradient g, found by moving one part at a time, and the correlation R of the scores, the unit of
least margin among all those as likely as one that lies b standard deviations out is

    z = -b R g / sqrt(g' R g),

the design point of first-order reliability (Hasofer & Lind, 1974): about one unit in 700 has less
margin for b = 3, as far as the margin is a straight line. The extreme corner has every part at its
limit to the bad side instead; no unit drawn within its limits is worse, as far as the margin falls
or rises all along.
"""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.variation import Variation, variations
from derate.lamp.varying import AIRFLOW, AMBIENT
from derate.loop.batch import Batch
from derate.loop.quantile import values_of
from derate.loop.ready import Specimen
from derate.loop.units import Draws, draw, unit_lamp
from derate.plant.plant import Plant

Array = NDArray[np.float64]
Corners = Literal["likely", "extreme", "none"]

LIKELY: Final = 3.0
"""Standard deviations of the likely corner."""
EXTREME: Final = 8.0
"""A score at which every bounded part is at its limit."""
REACH: Final = 1.5
"""Scores by which one part at a time is moved to see what it does."""
ALIKE: Final = 0.9
"""Two corners whose scores point the same way (cosine) are one."""
MOST: Final = 2
"""As many corners, of the limits that are nearest."""
NOMINAL: Final = "nominal"


@dataclass(frozen=True, eq=False)
class TunedUnit:
    """A unit that settings are tried on; ``scores`` of its parts by the name of their draw.

    ``draws``: those it is one of; None for the nominal lamp.
    """

    name: str
    number: int
    lamp: Lamp
    shift_k: float
    airflow: float
    scores: dict[str, float]
    draws: Draws | None = None

    def with_firmware(self, firmware: Lamp) -> Specimen:
        """This unit with the settings of ``firmware``."""
        return Specimen(self.number, self.lamp, firmware, self.shift_k, self.airflow)


def nominal_unit(lamp: Lamp) -> TunedUnit:
    """The lamp as its file says it."""
    return TunedUnit(NOMINAL, 0, lamp, 0.0, 1.0, {})


def drawn_units(lamp: Lamp, units: range, seed: int) -> tuple[TunedUnit, ...]:
    """Units drawn within the tolerances; none of a lamp that has no tolerances."""
    if not variations(lamp):
        return ()
    draws = draw(lamp, units, seed)
    return tuple(_unit(lamp, draws, number, f"unit {number}") for number in units)


def probes_of(some: Sequence[Variation]) -> int:
    """How many units are run to find the corners of what varies."""
    return 1 + 2 * len(some)


def corner_units(
    lamp: Lamp, batches: Sequence[Batch], firmware: Lamp, corners: Corners, seed: int
) -> tuple[TunedUnit, ...]:
    """The corners nearest to the limits with the settings of ``firmware``; none where none vary."""
    some = variations(lamp)
    if not some or corners == "none":
        return ()
    bare = draw(lamp, [0], seed)
    moved = np.concatenate([np.zeros((1, len(some))), REACH * _one_by_one(len(some))])
    probes = [_at(lamp, bare, some, scores, 0, "probe") for scores in moved]
    margins_k = _margins_k(lamp, batches, [probe.with_firmware(firmware) for probe in probes])
    together = _together(some)
    chosen: list[Array] = []
    for node in np.argsort(margins_k[0]):
        up, down = margins_k[1 : 1 + len(some), node], margins_k[1 + len(some) :, node]
        scores = _corner((up - down) / (2.0 * REACH), together, corners)
        if len(chosen) < MOST and scores.any() and not any(_alike(scores, z) for z in chosen):
            chosen.append(scores)
    return tuple(
        _at(lamp, bare, some, scores, 1 + i, f"{corners} corner{f' {1 + i}' if i else ''}")
        for i, scores in enumerate(chosen)
    )


def extreme_unit(
    lamp: Lamp, margin_k: Callable[[Sequence[TunedUnit]], Array], *, seed: int = 0
) -> TunedUnit | None:
    """The unit whose every part is at its limit on the side where ``margin_k`` falls.

    ``margin_k`` gives one figure [K] for each unit. None where nothing varies, or nothing moves it.
    """
    some = variations(lamp)
    if not some:
        return None
    bare = draw(lamp, [0], seed)
    moved = REACH * _one_by_one(len(some))
    probes = [_at(lamp, bare, some, scores, 0, "probe") for scores in moved]
    found = margin_k(probes)
    gradient = (found[: len(some)] - found[len(some) :]) / (2.0 * REACH)
    scores = _corner(gradient, _together(some), "extreme")
    return _at(lamp, bare, some, scores, 1, "extreme corner") if scores.any() else None


def _one_by_one(count: int) -> Array:
    return np.concatenate([np.eye(count), -np.eye(count)])


def _margins_k(lamp: Lamp, batches: Sequence[Batch], specimens: Sequence[Specimen]) -> Array:
    """Least distance of every node with a limit over all profiles (U, nodes) [K]."""
    limits_c = Plant(lamp).limits_c
    limited = np.isfinite(limits_c)
    peaks_c = [batch.run(specimens).peak_c for batch in batches]
    margins_k: Array = limits_c[limited] - np.max(peaks_c, axis=0)[:, limited]
    return margins_k


def _together(some: Sequence[Variation]) -> Array:
    """Correlation of the scores of all draws."""
    found = np.eye(len(some))
    for i, one in enumerate(some):
        for j, other in enumerate(some):
            if i != j and one.group is not None and one.group == other.group:
                found[i, j] = one.correlation
    return found


def _corner(gradient: Array, together: Array, corners: Corners) -> Array:
    """The scores of the corner of one limit; zero where nothing moves it."""
    if corners == "extreme":
        return -EXTREME * np.sign(gradient)
    size = float(np.sqrt(gradient @ together @ gradient))
    if size == 0.0:
        return np.zeros(len(gradient))
    found: Array = -LIKELY * (together @ gradient) / size
    return found


def _alike(one: Array, other: Array) -> bool:
    return float(one @ other) > ALIKE * float(np.linalg.norm(one) * np.linalg.norm(other))


def _at(
    lamp: Lamp, bare: Draws, some: Sequence[Variation], scores: Array, number: int, name: str
) -> TunedUnit:
    """The unit of some scores."""
    values = [
        float(values_of(one, limits, [score])[0])
        for one, score in zip(some, scores, strict=True)
        for limits in one.keys
    ]
    draws = dataclasses.replace(
        bare, units=np.array([number]), scores=scores[None, :], values=np.array([values])
    )
    return _unit(lamp, draws, number, name)


def _unit(lamp: Lamp, draws: Draws, number: int, name: str) -> TunedUnit:
    drawn = draws.of(number)
    row = int(np.flatnonzero(draws.units == number)[0])
    return TunedUnit(
        name,
        number,
        unit_lamp(lamp, draws, number),
        drawn.get(AMBIENT.key, AMBIENT.value),
        drawn.get(AIRFLOW.key, AIRFLOW.value),
        dict(zip(draws.names, draws.scores[row].tolist(), strict=True)),
        draws,
    )
