"""Speed of one control period in each body: called from Python, and by its address. Prints JSON."""

import json
import timeit
from pathlib import Path

import numba
import numpy as np

from derate.control.body import PythonBody
from derate.firmware.calling import step_at
from derate.firmware.host import HostBody
from derate.lamp import load
from derate.loop.controllers import Compiled, Reference
from derate.sensing.chain import chains_of

SIMS = Path(__file__).parents[2] / "sims"
STEPS = 10_000
OWN = {
    "controller.body": "python",
    "controller.policy": {"kind": "tests.control.own_policies:Methods", "start": "50 degC"},
}


def step_us(body, channels: int) -> float:
    """Microseconds of one step, best of five runs."""
    codes, requests = [700], [32768] * channels
    return best_us(lambda: [body.step(codes, requests) for _ in range(STEPS)])


def best_us(run) -> float:
    """Microseconds of one of so many steps, best of five runs."""
    return round(min(timeit.repeat(run, number=1, repeat=5)) / STEPS * 1e6, 3)


@numba.njit
def _steps(step, settings, memory, codes, requests, duties):
    for k in range(STEPS):
        codes[0] = 500 + k % 1000
        step_at(
            step,
            settings,
            memory.ctypes.data,
            codes.ctypes.data,
            requests.ctypes.data,
            duties.ctypes.data,
        )


def by_address_us(controllers, lamp) -> float:
    """Microseconds of one step as the batch calls it."""
    settings, memory = controllers.begun(lamp)
    requests = np.full(len(lamp.channels), 32768, np.uint16)
    given = (controllers.step, settings, memory, np.zeros(2, np.uint16), requests, requests.copy())
    _steps(*given)
    return best_us(lambda: _steps(*given))


if __name__ == "__main__":
    results = {}
    for name in ("cycle_front_lamp", "stage_wash", "hand_lamp"):
        lamp = load(SIMS / f"{name}.toml")
        own, chains, channels = lamp.with_changes(OWN), chains_of(lamp), len(lamp.channels)
        host = HostBody(lamp, chains)
        results[name] = {
            "c": step_us(host, channels),
            "python": step_us(PythonBody(lamp, chains), channels),
            "own policy": step_us(PythonBody(own, chains), channels),
            "c by address": by_address_us(Reference(lamp, chains, host), lamp),
            "own policy compiled": by_address_us(Compiled(own, chains), own),
        }
    print(json.dumps({"controller_step_us": results}, indent=2))
