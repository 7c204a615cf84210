"""Never over the limit: a bound for every history, a search, and what tests of one's own say.

For tests of one's own: the strategies ``profiles``, ``ambients``, ``units``, ``events`` and
``chains``; the assertions ``never_exceeds``, ``never_more_light_than_requested``,
``recovers_within`` and ``safe_on_sensor_fault``; the state machine ``sequences``. All of them come
when asked for, so that importing this costs nothing.
"""

from importlib import import_module
from typing import Any

_FROM = {
    "ambients": "strategies",
    "chains": "strategies",
    "events": "strategies",
    "profiles": "strategies",
    "units": "strategies",
    "never_exceeds": "promises",
    "never_more_light_than_requested": "promises",
    "recovers_within": "promises",
    "safe_on_sensor_fault": "promises",
    "space_of": "space",
    "sequences": "state_machine",
    "PromiseBrokenError": "broken",
}
__all__ = [*_FROM]


def __getattr__(name: str) -> Any:
    if name in _FROM:
        return getattr(import_module(f"derate.limits.{_FROM[name]}"), name)
    raise AttributeError(f"module 'derate.limits' has no attribute {name!r}")
