"""Compiles what most tests call, before they run: half in each of two processes.

Each of two test workers would otherwise compile all of it. The kernel that runs units one by one
takes less time than the other, so that its process goes on with what commands call besides. Run
``python -m tests.warm``.
"""

import contextlib
import io
import subprocess
import sys
from pathlib import Path

import derate
from derate.cli import main
from derate.lamp import load
from derate.loop.batch import run_batch

LAMP = Path(__file__).parents[1] / "sims" / "cycle_front_lamp.toml"
HUNTING = LAMP.with_name("hunting_spot.toml")
SHORT_S = 20.0
HALVES = ("one by one", "side by side")


def call_commands():
    """Let commands that compile something answer, to nobody."""
    nothing = io.StringIO()
    with contextlib.redirect_stdout(nothing), contextlib.redirect_stderr(nothing):
        main(["point", str(LAMP)])
        main(["table", str(LAMP)])
        main(["worst", str(HUNTING), "--nominal"])


def compile_half(half):
    """Run the first demo lamp for a short while by one of the two kernels of the batch clock."""
    lamp = load(LAMP)
    name, profile = next(iter(lamp.profiles.items()))
    short = profile.model_copy(update={"duration_s": SHORT_S})
    if half == HALVES[0]:
        run_batch(lamp, short, (0,), trace_units=(0,), threads=1)
        derate.run(lamp, name)
        call_commands()
    else:
        run_batch(lamp, short, range(8), threads=1)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        compile_half(sys.argv[1])
    else:
        going = [subprocess.Popen([sys.executable, "-m", "tests.warm", h]) for h in HALVES]
        sys.exit(max([each.wait() for each in going]))
