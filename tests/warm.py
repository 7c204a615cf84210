"""Compiles what most tests call, before they run: half in each of two processes.

Each of two test workers would otherwise compile all of it. Run ``python -m tests.warm``.
"""

import subprocess
import sys
from pathlib import Path

import derate
from derate.lamp import load
from derate.loop.batch import run_batch

LAMP = Path(__file__).parents[1] / "sims" / "cycle_front_lamp.toml"
SHORT_S = 20.0
HALVES = ("one by one", "side by side")


def compile_half(half):
    """Run the first demo lamp for a short while by one of the two kernels of the batch clock."""
    lamp = load(LAMP)
    name, profile = next(iter(lamp.profiles.items()))
    short = profile.model_copy(update={"duration_s": SHORT_S})
    if half == HALVES[0]:
        run_batch(lamp, short, (0,), trace_units=(0,), threads=1)
        derate.run(lamp, name)
    else:
        run_batch(lamp, short, range(8), threads=1)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        compile_half(sys.argv[1])
    else:
        going = [subprocess.Popen([sys.executable, "-m", "tests.warm", h]) for h in HALVES]
        sys.exit(max([each.wait() for each in going]))
