"""The C on its cores: an hour of the closed loop at 10 Hz, a step, and what it takes there.

Prints JSON: seconds of the loop by body, microseconds of one step called from Python and of one
among many, and the figures of the reference with four channels on every core there is.
"""

import json
import time
from pathlib import Path

from derate.control.body import PythonBody
from derate.firmware.emulated import EmulatedBody
from derate.firmware.host import HostBody
from derate.firmware.target import TARGETS, missing
from derate.lamp import load
from derate.lamp.profile import Profile
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from derate.study.on_target import study_targets
from derate.study.recorded import short_walk
from tests.control.small_lamp import FOLDBACK, PREDICTIVE, small_lamp
from tests.speed.bench_controller import step_us

LAMP = Path(__file__).parents[2] / "sims" / "cycle_front_lamp.toml"
HOUR = {"duration": 3600.0, "ambient": 20.0, "request": {}}
ROWS = 20_000


def hour_s(lamp, body) -> float:
    """Seconds of processor time for an hour of the closed loop, best of three."""
    profile = Profile.model_validate(HOUR | {"request": dict.fromkeys(lamp.channels, 0.8)})
    chains = chains_of(lamp)
    took = []
    for _ in range(3):
        began = time.process_time()
        Timeline(lamp, profile, body, chains).run()
        took.append(time.process_time() - began)
    return round(min(took), 2)


def row_us(lamp, core) -> float:
    """Microseconds of a step among many on a core."""
    walk = short_walk(lamp, chains_of(lamp), ROWS)
    core.begin()
    began = time.perf_counter()
    core.run(walk.codes, walk.requests)
    return round((time.perf_counter() - began) / ROWS * 1e6, 2)


def figures(policy, **keys) -> dict[str, dict[str, object]]:
    """Bytes, instructions and cycles of the reference with four channels, by core."""
    study = study_targets(small_lamp(policy, channels=4, **keys), rows=ROWS)
    return {
        core.target.name: {
            "code_bytes": core.code_bytes,
            "constant_bytes": core.constant_bytes,
            "state_bytes": core.state_bytes,
            "stack_bytes": core.stack_bytes,
            "instructions": vars(core.instructions),
            "cycles": vars(core.cycles),
            "agrees": core.agrees,
        }
        for core in study.tried
    }


if __name__ == "__main__":
    lamp = load(LAMP)
    names = [name for name, target in TARGETS.items() if missing(target) is None]
    cores = {name: EmulatedBody(lamp, None, name) for name in names}
    bodies = {"c": HostBody(lamp), "python": PythonBody(lamp, chains_of(lamp)), **cores}
    for body in bodies.values():
        body.start()
    channels = len(lamp.channels)
    results = {
        "hour_at_10_hz_s": {name: hour_s(lamp, body) for name, body in bodies.items()},
        "step_us": {name: step_us(body, channels) for name, body in bodies.items()},
        "row_us": {name: row_us(lamp, body.processor) for name, body in cores.items()},
        "foldback_with_filter": figures(FOLDBACK, filter_shift=4),
        "predictive": figures(PREDICTIVE, filter_shift=4),
    }
    print(json.dumps(results, indent=2))
