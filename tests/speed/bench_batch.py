"""Speed of the batch clock: unit-ticks per second. Prints JSON.

Twelve nodes, four channels, a noisy sensor, the C firmware at 10 Hz; every unit with resistances
of its own. Run ``python -m tests.speed.bench_batch [UNITS]``.
"""

import json
import sys
import time

import numpy as np

from derate.loop.batch import run_batch
from tests.plant.invented import CHANNEL, SENSOR, lamp

HOUR_S, TICK_S, REPEATS = 3600.0, 0.1, 3
NOISY = SENSOR | {"adc": {"bits": 12, "noise_lsb": 1.0}}
NAMES = ("low", "high", "turn", "day")
PROFILE = {
    "duration_s": HOUR_S,
    "ambient": {"at_s": (0.0, 1200.0, 2400.0), "value": (25.0, 60.0, 40.0)},
    "request": {
        "low": 1.0,
        "high": {"at_s": (0.0, 600.0), "value": (0.0, 1.0), "every_s": 900.0},
        "turn": {"at_s": (0.0, 20.0), "value": (0.0, 1.0), "every_s": 40.0},
        "day": 0.7,
    },
}


def twelve(share=1.0):
    """Four channels on boards of their own, a sink, a housing and a rim, one sensor: 12 nodes."""
    boards = [f"board_{name}" for name in NAMES]
    nodes = {board: {"capacitance_j_per_k": 2.0} for board in boards}
    nodes |= {
        "sink": {"capacitance_j_per_k": 60.0},
        "housing": {"capacitance_j_per_k": 40.0, "limit_c": 90.0},
        "rim": {"capacitance_j_per_k": 15.0},
    }
    links = (
        *({"between": (board, "sink"), "resistance_k_per_w": 1.0 * share} for board in boards),
        {"between": ("sink", "housing"), "resistance_k_per_w": 2.0 * share},
        {"between": ("housing", "rim"), "resistance_k_per_w": 4.0},
        {"between": ("sink", "ambient"), "resistance_k_per_w": 3.0 * share, "airflow": True},
        {"between": ("rim", "ambient"), "resistance_k_per_w": 20.0},
    )
    channels = {
        name: CHANNEL | {"solder_point": board} for name, board in zip(NAMES, boards, strict=True)
    }
    controller = {
        "body": "c",
        "cutoff_c": 110.0,
        "safe_duty": 0.2,
        "filter_shift": 3,
        "policy": {"kind": "foldback", "start_c": 60.0, "end_c": 90.0, "floor": 0.1},
    }
    return lamp(
        channels,
        sensors={"ntc": NOISY | {"at": boards[0]}},
        nodes=nodes,
        links=links,
        controller=controller,
        profiles={"hour": PROFILE},
    )


def main():
    """Print the best of several runs."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    nominal = twelve()
    lamps = [twelve(share) for share in np.linspace(0.9, 1.1, units)]
    profile = nominal.profiles["hour"]
    run_batch(nominal, profile.model_copy(update={"duration_s": 1.0}), (0,))
    best_s = min(_seconds(nominal, profile, lamps) for _ in range(REPEATS))
    ticks = units * HOUR_S / TICK_S
    print(json.dumps({"batch": {
        "units": units,
        "ticks_per_unit": HOUR_S / TICK_S,
        "seconds": round(best_s, 3),
        "unit_ticks_per_s": round(ticks / best_s),
    }}, indent=2))  # fmt: skip


def _seconds(nominal, profile, lamps):
    start = time.perf_counter()
    result = run_batch(nominal, profile, range(len(lamps)), unit_lamp=lamps.__getitem__)
    assert result.node_c.shape == (len(lamps), 12)
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
