"""That time grows in proportion to units and ticks, and memory hardly. Prints JSON, draws a figure.

The lamp of ``bench_batch``. Run ``python -m tests.speed.bench_linear [FIGURE.png]``; with
``--many UNITS`` only the memory of that many units of the first demo lamp, over a short profile.
"""

import json
import resource
import sys
import time
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

from derate.lamp import load
from derate.loop.batch import Batch, Specimen
from derate.study.spread import study_spread
from tests.speed.bench_batch import TICK_S, twelve

SIMS = Path(__file__).parents[2] / "sims"
UNITS, DURATIONS_S = (32, 64, 128, 256, 512), (120.0, 240.0, 480.0, 960.0, 1920.0)
SOME_UNITS, SOME_S = 64, 300.0
SHORT_S = 2.0


def seconds(units, duration_s):
    """Best of three runs of so many units over so long, each made anew [s]."""
    nominal = twelve()
    profile = nominal.profiles["hour"].model_copy(update={"duration_s": duration_s})
    specimens = [
        Specimen(number, twelve(share)) for number, share in enumerate(np.linspace(0.9, 1.1, units))
    ]
    best_s = np.inf
    for _ in range(3):
        batch = Batch(nominal, profile)  # one that has run remembers its last units
        begun = time.perf_counter()
        batch.run(specimens)
        best_s = min(best_s, time.perf_counter() - begun)
    return best_s


def many(units):
    """Most memory while so many units of the first demo lamp are drawn and run [MB]."""
    lamp = load(SIMS / "cycle_front_lamp.toml")
    profile = lamp.profiles["ride_home"].model_copy(update={"duration_s": SHORT_S})
    begun = time.perf_counter()
    study_spread(lamp, profile, units=units)
    took_s = time.perf_counter() - begun
    memory_mb = round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3)
    return {"units": units, "seconds": round(took_s, 1), "most_memory_mb": memory_mb}


def main(figure):
    """Print both courses and the exponents of the straight lines through their logarithms."""
    seconds(8, 1.0)
    found = {
        f"units, {SOME_S:g} s each": (UNITS, [seconds(units, SOME_S) for units in UNITS]),
        f"ticks, {SOME_UNITS} units": (
            [round(s / TICK_S) for s in DURATIONS_S],
            [seconds(SOME_UNITS, s) for s in DURATIONS_S],
        ),
    }
    told = {}
    panels, axes = plt.subplots(1, len(found), figsize=(8, 3.2), layout="constrained")
    for axis, (name, (x, y)) in zip(axes, found.items(), strict=True):
        slope, at_one = np.polyfit(x, y, 1)
        told[name] = {
            "at": list(x),
            "seconds": [round(s, 3) for s in y],
            "exponent": round(float(np.polyfit(np.log(x), np.log(y), 1)[0]), 3),
            "offset_s": round(float(at_one), 3),
        }
        axis.plot(x, y, "ko")
        axis.plot([0, x[-1]], [at_one, at_one + slope * x[-1]], "k-", lw=0.8)
        axis.set(xlabel=name, ylabel="s", xlim=(0, None), ylim=(0, None))
    panels.savefig(figure, dpi=150)
    print(json.dumps({"linear": told | {"figure": str(figure)}}, indent=2))


if __name__ == "__main__":
    if "--many" in sys.argv:
        print(json.dumps({"many": many(int(sys.argv[-1]))}))
    else:
        main(Path(sys.argv[1] if len(sys.argv) > 1 else "linear.png"))
