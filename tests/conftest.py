"""How hypothesis draws: the same examples every time, or new ones when asked to explore."""

import os

from hypothesis import HealthCheck, settings

SLOW_MACHINES = (HealthCheck.too_slow,)
"""How long drawing takes says something of the machine, nothing of the program."""

settings.register_profile(
    "steady", derandomize=True, deadline=None, suppress_health_check=SLOW_MACHINES
)
settings.register_profile("explore", deadline=None, suppress_health_check=SLOW_MACHINES)
settings.load_profile("explore" if os.environ.get("EXPLORE") else "steady")
