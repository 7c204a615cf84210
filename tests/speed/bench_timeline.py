"""Speed of the timeline: one hour at 10 Hz with the C firmware in the loop. Prints JSON."""

import json
import time
from pathlib import Path

from derate.lamp import load
from derate.loop.body import body_for
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of

SIMS = Path(__file__).parents[2] / "sims"
HOUR_S = 3600.0


def hour_s(name: str) -> tuple[float, int]:
    """Seconds of computing for one hour of a demo lamp's first profile at 10 Hz, and its nodes."""
    lamp = load(SIMS / f"{name}.toml").with_changes(
        {
            "timing.control_period": "100 ms",
            "timing.adc_period": "100 ms",
            "timing.adc_phase": "0 s",
        }
    )
    profile = next(iter(lamp.profiles.values())).model_copy(update={"duration_s": HOUR_S})
    chains = chains_of(lamp)
    best = float("inf")
    for _ in range(3):
        timeline = Timeline(lamp, profile, body_for(lamp, chains), chains)
        start = time.perf_counter()
        timeline.run()
        best = min(best, time.perf_counter() - start)
    return best, len(timeline.plant.node_names)


if __name__ == "__main__":
    results = {}
    for name in ("cycle_front_lamp", "stage_wash"):
        seconds, nodes = hour_s(name)
        results[name] = {"nodes": nodes, "one_hour_at_10_hz_s": round(seconds, 3)}
    print(json.dumps({"timeline": results}, indent=2))
