"""Speed of one control period in each body, called from Python. Prints JSON."""

import json
import timeit
from pathlib import Path

from derate.control.body import PythonBody
from derate.firmware.host import HostBody
from derate.lamp import load
from derate.sensing.chain import chains_of

SIMS = Path(__file__).parents[2] / "sims"
STEPS = 10_000


def step_us(body, channels: int) -> float:
    """Microseconds of one step, best of five runs."""
    codes, requests = [700], [32768] * channels
    runs = timeit.repeat(lambda: body.step(codes, requests), number=STEPS, repeat=5)
    return round(min(runs) / STEPS * 1e6, 2)


if __name__ == "__main__":
    results = {}
    for name in ("cycle_front_lamp", "stage_wash", "hand_lamp"):
        lamp = load(SIMS / f"{name}.toml")
        chains = chains_of(lamp)
        bodies = {"c": HostBody(lamp, chains), "python": PythonBody(lamp, chains)}
        for body in bodies.values():
            body.start()
        channels = len(lamp.channels)
        results[name] = {kind: step_us(body, channels) for kind, body in bodies.items()}
    print(json.dumps({"controller_step_us": results}, indent=2))
