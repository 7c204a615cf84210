"""Speed and looseness of the possible of each demo lamp's profiles. Prints JSON."""

import json
import time
from pathlib import Path

from derate.lamp import load
from derate.study.possible import possible

SIMS = Path(__file__).parents[2] / "sims"

if __name__ == "__main__":
    told = {}
    for path in sorted(SIMS.glob("*.toml")):
        lamp = load(path)
        for profile in lamp.profiles:
            possible(lamp, profile)
            start = time.perf_counter()
            found = possible(lamp, profile)
            told[f"{path.stem} {profile}"] = {
                "seconds": round(time.perf_counter() - start, 3),
                "slots": len(found.plan_lm),
                "looseness": round(found.looseness, 4),
            }
    print(json.dumps(told, indent=2))
