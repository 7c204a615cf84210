"""A profile cut into slots: what the world does in each, and how much light may be asked for.

A request reaches the driver late: at the controller's next tick, and at the update after it. So
at an instant t a channel may be driven by any request of the window t - delay .. t, and its duty
is at most the largest of them, rounded as the firmware and the driver round it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from derate.control.command import ONE_Q15
from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.inputs import HALF_NANOSECOND_S, Inputs
from derate.plant.plant import Plant

Array = NDArray[np.float64]

MOST_SLOTS: Final = 1500
"""A profile that jumps more often makes a programme too large to be solved at a desk."""
AFTER_JUMP: Final = (0.05, 0.3)
"""Where a long slot after a jump is cut again [-]: there temperatures move fastest."""
NEAR_END: Final = 12
"""Instants of a piece lie at half the time to its end, a quarter of it, and so on, so often."""
BULK: Final = 8
"""Parts of a piece before that."""


@dataclass(frozen=True, eq=False)
class Horizon:
    """S slots; C channels, M ambients; L instants in all pieces, several in each slot.

    ``edge_s`` (S + 1) [s]; ``configuration`` (S): the plant's number for the state of its links;
    ``airflow`` (S), the largest of the slot, and ``degraded`` (S): what it is made from; ``calm``
    (S): the least airflow;
    ``ambient_c`` (S, 2, M): just after a slot's begin and just before its end [degC];
    ``least``, ``most`` (S, C): of a channel's mean duty in a slot [0..1].

    ``at_s`` (L): instants; ``slot`` (L); ``weight_s`` (L): of the trapezoidal rule; ``floor``,
    ``ceiling`` (L, C): of a channel's duty.
    """

    edge_s: Array
    configuration: NDArray[np.int64]
    airflow: Array
    calm: Array
    degraded: tuple[Mapping[str, float], ...]
    ambient_c: Array
    least: Array
    most: Array
    at_s: Array
    slot: NDArray[np.int64]
    weight_s: Array
    floor: Array
    ceiling: Array

    @property
    def length_s(self) -> Array:
        """Length of every slot [s]."""
        return np.diff(self.edge_s)

    def ambients_c(self, slot: NDArray[np.int64], at_s: Array) -> Array:
        """The ambients (.., M) at instants within slots [degC]."""
        share = ((at_s - self.edge_s[slot]) / self.length_s[slot])[..., None]
        return self.ambient_c[slot, 0] * (1.0 - share) + self.ambient_c[slot, 1] * share


def horizon_of(lamp: Lamp, profile: Profile, plant: Plant, parts: int) -> Horizon:
    """The slots of a profile; ``plant`` learns the configurations of the links.

    No slot is longer than the profile divided by ``parts``.
    Where the airflow moves along a line the largest of a slot is taken. Raises InputError where
    the profile jumps too often.
    """
    edge_s = _edges_s(profile, parts)
    if len(edge_s) - 1 > MOST_SLOTS:
        raise InputError(
            f"{lamp.source or lamp.name}: the possible: found a profile of {len(edge_s) - 1} slots,"
            f" due at most {MOST_SLOTS}"
        )
    configuration, airflow, calm, degraded, stuck = _worlds(lamp, profile, plant, edge_s)
    courses = profile.ambient_courses(lamp.ambients).values()
    after_s, before_s = edge_s[:-1] + HALF_NANOSECOND_S, edge_s[1:] - 2 * HALF_NANOSECOND_S
    ambient_c = np.array([[course.values(after_s), course.values(before_s)] for course in courses])
    delay_s = _delay_s(lamp)
    late_s = edge_s[1:-1] + delay_s
    pieces_s = np.unique(np.concatenate((edge_s, late_s[late_s < edge_s[-1]])))
    at_s, weight_s = _instants(pieces_s)
    slot = np.searchsorted(edge_s, at_s, side="right") - 1
    ceiling = np.array(
        [_ceiling(lamp, profile, name, at_s, delay_s) for name in lamp.channels]
    ).T.reshape(len(at_s), -1)
    floor = stuck[slot].astype(float)
    ceiling = np.maximum(ceiling, floor)
    most = np.zeros((len(edge_s) - 1, ceiling.shape[1]))
    np.add.at(most, slot, ceiling * weight_s[:, None])
    return Horizon(
        edge_s=edge_s,
        configuration=configuration,
        airflow=airflow,
        calm=calm,
        degraded=degraded,
        ambient_c=ambient_c.transpose(2, 1, 0),
        least=stuck.astype(float),
        most=np.minimum(most / np.diff(edge_s)[:, None], 1.0),
        at_s=at_s,
        slot=slot,
        weight_s=weight_s,
        floor=floor,
        ceiling=ceiling,
    )


def _delay_s(lamp: Lamp) -> float:
    """The longest time [s] for which a request that is over may still be driven."""
    timing = lamp.timing
    return timing.control_period_s + timing.control_jitter_s + timing.update_period_s


def _edges_s(profile: Profile, parts: int) -> Array:
    """Begins of the slots and the end of the last: changes of the profile, and in between."""
    end_s = profile.duration_s
    changes = {0.0, end_s, *profile.jumps()}
    ambient = profile.ambient
    ambients = ambient.values() if isinstance(ambient, dict) else (ambient,)
    for course in (*ambients, profile.airflow, *profile.request.values()):
        changes.update(course.changes(end_s))
    edges, longest_s = [0.0], end_s / parts
    for begin_s, after_s in pairwise(sorted(changes)):
        cuts = int(np.ceil((after_s - begin_s) / longest_s))
        inner = list(np.linspace(begin_s, after_s, cuts + 1)[1:])
        if cuts > 2:
            inner = [*(begin_s + share * (inner[0] - begin_s) for share in AFTER_JUMP), *inner]
        edges += inner
    return np.array(edges)


def _worlds(
    lamp: Lamp, profile: Profile, plant: Plant, edge_s: Array
) -> tuple[NDArray[np.int64], Array, Array, tuple[Mapping[str, float], ...], NDArray[np.bool_]]:
    """Configuration, largest and least airflow, factors of links, channels stuck on, by slot."""
    inputs = Inputs(lamp, profile)
    jumps = set(profile.jumps())
    configuration, airflows, calm, degraded, stuck = [], [], [], [], []
    for begin_s, end_s in pairwise(edge_s.tolist()):
        inputs.move(begin_s)
        if begin_s in jumps:
            inputs.jump(begin_s)
        airflow, least = inputs.airflow, inputs.airflow
        if inputs.airflow_moves:
            inputs.move(end_s)
            airflow, least = max(airflow, inputs.airflow), min(airflow, inputs.airflow)
        plant.configure(airflow, inputs.condition.degraded)
        configuration.append(plant.configuration)
        airflows.append(airflow)
        calm.append(least)
        degraded.append(dict(inputs.condition.degraded))
        stuck.append([name in inputs.condition.stuck_on for name in lamp.channels])
    return (
        np.array(configuration),
        np.array(airflows),
        np.array(calm),
        tuple(degraded),
        np.array(stuck, dtype=bool),
    )


def _instants(edge_s: Array) -> tuple[Array, Array]:
    """Instants in pieces between edges, denser towards their ends, and their weights [s]."""
    left = np.concatenate(
        (np.linspace(1.0, 1.0 / BULK, BULK), 0.5 ** np.arange(1, NEAR_END) / BULK)
    )
    share = np.append(1.0 - left, 1.0)
    gaps = np.diff(share)
    weight = 0.5 * (np.append(gaps, 0.0) + np.append(0.0, gaps))
    length_s = np.diff(edge_s)[:, None]
    at_s = edge_s[:-1, None] + share * length_s
    at_s[:, 0] += HALF_NANOSECOND_S
    at_s[:, -1] -= 2 * HALF_NANOSECOND_S
    return at_s.ravel(), (weight * length_s).ravel()


def _ceiling(lamp: Lamp, profile: Profile, name: str, at_s: Array, delay_s: float) -> Array:
    """The largest duty that any request of the window before each instant may bring about."""
    if name not in profile.request:
        return np.zeros(len(at_s))
    course = profile.request[name]
    most = np.maximum(course.values(at_s), course.values(np.maximum(at_s - delay_s, 0.0)))
    for change_s in course.changes(profile.duration_s):
        first, after = np.searchsorted(at_s, (change_s, change_s + delay_s))
        around = course.values([change_s - HALF_NANOSECOND_S * 2, change_s])
        most[first:after] = np.maximum(most[first:after], around.max())
    levels = 1 << lamp.driver.resolution_bits
    return np.asarray(np.floor(np.rint(most * ONE_Q15) * levels / ONE_Q15) / levels)
