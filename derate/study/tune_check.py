"""Settings checked before they are recommended: on the reference clock, and on drawn units."""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.batch import Batch
from derate.loop.merit import share_of
from derate.loop.run import Result, run
from derate.loop.timeline import Stop, going_on
from derate.study.possible import possible
from derate.study.tune_trial import BETWEEN_LOOKS_S
from derate.study.tune_units import TunedUnit, nominal_unit

Array = NDArray[np.float64]

FIRST_UNITS = 4
"""As many drawn units are run before it is known how long one takes."""
AGREE_K = 1e-6
"""The two clocks agree to rounding; more than this is told."""


@dataclass(frozen=True)
class Checked:
    """The nominal lamp with the settings in one profile, on the timeline.

    ``margin_k`` to the nearest limit [K], at ``nearest``; ``light``: share of what was asked for;
    ``differs_k``, ``differs``: from the batch clock [K], [-]; ``hunts``: whether a limit cycle was
    found; ``of_possible``: share of the light that no controller can surpass, None if not asked.
    """

    profile: str
    margin_k: float
    nearest: str
    light: float
    differs_k: float
    differs: float
    hunts: bool
    of_possible: float | None

    @property
    def agrees(self) -> bool:
        """Whether both clocks say the same."""
        return self.differs_k <= AGREE_K and self.differs <= AGREE_K


@dataclass(frozen=True)
class Drawn:
    """What units drawn at random do with the settings; none of a lamp without tolerances.

    ``least_margin_k`` [K] of ``units`` in all profiles, ``below_guard``, ``above_limit``: how many,
    light from ``least_light`` to ``most_light`` as shares of what was asked for.
    """

    units: int
    least_margin_k: float
    below_guard: int
    above_limit: int
    least_light: float
    most_light: float


def checked(
    firmware: Lamp,
    lamp: Lamp,
    profiles: Mapping[str, Profile],
    batches: Mapping[str, Batch],
    *,
    seed: int,
    stop: Stop,
    doing: Callable[[str], object],
) -> tuple[Checked, ...]:
    """The nominal lamp with the settings of ``firmware``, profile by profile on the timeline.

    ``stop`` is asked before each.
    """
    found = []
    for name, profile in profiles.items():
        if stop():
            break
        doing(f"checking {name} on the timeline")
        result = run(firmware, profile, profile_name=name, seed=seed)
        margins_k = margins_of(result)
        nearest = min(margins_k, key=lambda place: margins_k[place])
        batch = batches[name].run([nominal_unit(lamp).with_firmware(firmware)])
        light = share_of(float(batch.light_lm_s.sum()), float(batch.asked_lm_s.sum()))
        bound = possible(firmware, profile)
        found.append(
            Checked(
                name,
                margins_k[nearest],
                nearest,
                result.merit.share_of_request,
                abs(float(batch.margin_k[0]) - margins_k[nearest]),
                0.0 if np.isnan(light) else abs(light - result.merit.share_of_request),
                result.merit.hunting is not None,
                None if bound.unheld else bound.share_of(result),
            )
        )
    return tuple(found)


def margins_of(result: Result) -> dict[str, float]:
    """Distance to each limit of a run [K], by the place."""
    merit = result.merit
    found = {f"junction of {name}": one.margin_k for name, one in merit.channels.items()}
    return found | {name: one.margin_k for name, one in merit.nodes.items()}


def drawn(
    firmware: Lamp,
    units: Sequence[TunedUnit],
    batches: Mapping[str, Batch],
    guard_k: float,
    *,
    late: Stop = going_on,
) -> Drawn | None:
    """What drawn units do with the settings of ``firmware``; None without units.

    As many of them, from the first on, as are run before ``late()`` is true, and a few at least.
    """
    if not units:
        return None
    parts: list[Array] = []
    done, size = 0, FIRST_UNITS
    while done < len(units) and (done == 0 or not late()):
        part = units[done : done + size]
        began_s = time.monotonic()
        parts.append(_margin_and_light(firmware, part, batches))
        done += len(part)
        size = max(1, int(BETWEEN_LOOKS_S * len(part) / (time.monotonic() - began_s)))
    margin_k, light, asked = np.concatenate(parts, axis=1)
    share = np.divide(light, asked, out=np.ones(done), where=asked > 0.0)
    return Drawn(
        done,
        float(margin_k.min()),
        int((margin_k < guard_k).sum()),
        int((margin_k < 0.0).sum()),
        float(share.min()),
        float(share.max()),
    )


def _margin_and_light(
    firmware: Lamp, units: Sequence[TunedUnit], batches: Mapping[str, Batch]
) -> Array:
    """Least margin [K], light and light asked for [lm s] of units over all profiles (3, U)."""
    specimens = [unit.with_firmware(firmware) for unit in units]
    results = [batch.run(specimens) for batch in batches.values()]
    return np.array(
        [
            np.min([result.margin_k for result in results], axis=0),
            np.sum([result.light_lm_s.sum(axis=1) for result in results], axis=0),
            np.sum([result.asked_lm_s.sum(axis=1) for result in results], axis=0),
        ]
    )
