"""Times the plant's tick and prints one JSON document; run ``python -m tests.speed.bench_plant``.

Nothing is asserted: machines differ, and so does what else they do.
"""

import json
import timeit

import numpy as np

from derate.plant.plant import Plant
from tests.plant.invented import SENSOR, boarded, lamp, shedding, twelve_nodes

TICK_S, CALLS, REPEATS = 0.1, 5_000, 7


def best_s(call, times):
    """Seconds per call, the best of several runs."""
    return min(timeit.repeat(call, number=times, repeat=REPEATS)) / times


def times_of(described):
    """Microseconds of a call of ``advance``, jittered too, and of a replayed interval."""
    plant, channels = Plant(described), len(described.channels)
    duties, requests = np.full(channels, 0.6), np.ones(channels)
    ambient_c, heat_w = np.full(len(described.ambients), 25.0), np.zeros(len(described.sensors))
    for _ in range(60_000):
        plant.advance(TICK_S, duties, requests, ambient_c, heat_w)
    steady = best_s(lambda: plant.advance(TICK_S, duties, requests, ambient_c, heat_w), CALLS)
    jitter_s = iter(TICK_S * (1 + 0.01 * np.random.default_rng(1).random(REPEATS * CALLS)))
    jittered = best_s(
        lambda: plant.advance(next(jitter_s), duties, requests, ambient_c, heat_w), CALLS
    )
    intervals = {
        "dt_s": np.full(CALLS, TICK_S),
        "duties": np.tile(duties, (CALLS, 1)),
        "requests": np.tile(requests, (CALLS, 1)),
        "ambient_c": np.tile(ambient_c, (CALLS, 1)),
        "sensor_heat_w": np.tile(heat_w, (CALLS, 1)),
        "airflow": np.ones(CALLS),
        "configuration": np.zeros(CALLS, int),
    }
    plant.reset(ambient_c, None, plant.node_c.copy())
    plant.replay(intervals)
    replayed = best_s(lambda: plant.replay(intervals), 1) / CALLS
    return {
        "nodes": len(plant.node_names),
        "advance_us": round(1e6 * steady, 3),
        "advance_jittered_us": round(1e6 * jittered, 3),
        "replay_us": round(1e6 * replayed, 3),
    }


def main():
    """Print the times of a small lamp, of one with twelve nodes, with surfaces, with a board."""
    lamps = {
        "small": lamp(sensors={"ntc": SENSOR}),
        "twelve": twelve_nodes(),
        "surfaces": shedding(),
        "board": boarded(),
    }
    print(json.dumps({name: times_of(each) for name, each in lamps.items()}, indent=2))


if __name__ == "__main__":
    main()
