"""Speed and memory of part tolerances: drawing, making and running units. Prints JSON."""

import json
import resource
import time
from pathlib import Path

from derate.lamp import load
from derate.loop.units import draw, unit_lamp
from derate.plant.plant import Plant
from derate.study.spread_units import Job, Units

SIMS = Path(__file__).parents[2] / "sims"
UNITS = 256
SHORT_S = 60.0


def seconds(work):
    """Processor time of a piece of work [s]."""
    begin_s = time.process_time()
    work()
    return time.process_time() - begin_s


def main():
    """Print the processor time of each part for one unit of the first demo lamp."""
    lamp = load(SIMS / "cycle_front_lamp.toml")
    profile = lamp.profiles["ride_home"]
    bare = lamp.with_changes({"profiles": None})
    draws = draw(bare, range(UNITS))
    lamps = [unit_lamp(bare, draws, unit) for unit in range(UNITS)]
    found = {
        "lamp_ms": seconds(lambda: [unit_lamp(bare, draws, unit) for unit in range(UNITS)]),
        "plant_ms": seconds(lambda: [Plant(one) for one in lamps]),
    }
    for name, duration_s in (("short", SHORT_S), ("whole", profile.duration_s)):
        shortened = profile.model_copy(update={"duration_s": duration_s})
        units = Units(Job(lamp, shortened, 0), threads=1)
        units.figures(range(16))
        found[f"{name}_profile_ms"] = seconds(lambda: units.figures(range(UNITS)))  # noqa: B023
    each = {name: round(value / UNITS * 1e3, 2) for name, value in found.items()}
    each["most_memory_mb"] = round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3)
    print(json.dumps({"spread": each}, indent=2))


if __name__ == "__main__":
    main()
