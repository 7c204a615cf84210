"""Speed of the operating point: one rest, and the whole study of each demo lamp. Prints JSON."""

import json
import time
from pathlib import Path

import numpy as np

from derate.lamp import Lamp, load
from derate.plant.board import lumped
from derate.plant.rest import resting
from derate.study.point import study_point

SIMS = Path(__file__).parents[2] / "sims"
RESTS = 300


def rest_us(lamp: Lamp) -> float:
    """Microseconds for one rest, each at an ambient of its own."""
    ready, duties = resting(lamp), np.ones(len(lamp.channels))
    ambients_c = np.linspace(-10.0, 50.0, RESTS)
    start = time.perf_counter()
    for ambient_c in ambients_c:
        ready.rest(duties, np.full(len(lamp.ambients), ambient_c))
    return 1e6 * (time.perf_counter() - start) / RESTS


def study_s(lamp: Lamp, *, anew: bool) -> float:
    """Seconds for the whole study, the best of three; ``anew``: boards reduced again as well."""
    best = float("inf")
    for _ in range(3):
        if anew:
            lumped._lumped.cache_clear()
        start = time.perf_counter()
        study_point(lamp)
        best = min(best, time.perf_counter() - start)
    return best


if __name__ == "__main__":
    results = {}
    for path in sorted(SIMS.glob("*.toml")):
        lamp = load(path)
        study_point(lamp)  # compiles, or loads what was compiled
        found = {
            "nodes": len(resting(lamp).network.names),
            "rest_us": round(rest_us(lamp), 1),
            "study_s": round(study_s(lamp, anew=False), 3),
        }
        if lamp.board is not None:
            found["study_with_board_anew_s"] = round(study_s(lamp, anew=True), 3)
        results[path.stem] = found
    print(json.dumps({"point": results}, indent=2))
