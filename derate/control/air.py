"""The air that the observer of a policy is made for: how much of it moves, how hot it may be."""

from typing import NamedTuple

from derate.lamp import controller
from derate.lamp.lamp import Lamp


class Air(NamedTuple):
    """What an observer is made for: airflow factors, least first, and the hottest ambient [degC],
    None where it is not known."""

    airflows: tuple[float, ...]
    hottest_c: float | None


def air_of(lamp: Lamp, chosen: controller.Predictive) -> Air:
    """The air of a policy, by default that of the profiles in the lamp file."""
    profiles = list(lamp.profiles.values())
    span = chosen.airflow or (
        min((profile.least_airflow for profile in profiles), default=1.0),
        max((profile.most_airflow for profile in profiles), default=1.0),
    )
    hottest_c = chosen.ambient_c
    if hottest_c is None and profiles:
        hottest_c = max(max(profile.ambients_c) for profile in profiles)
    return Air(tuple(sorted(set(span))), hottest_c)
