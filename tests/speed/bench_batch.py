"""Speed of the batch clock: unit-ticks per second, beside a loop in C. Prints JSON.

Twelve nodes, four channels, a noisy sensor, the C firmware at 10 Hz; every unit with resistances
of its own. Run ``python -m tests.speed.bench_batch [UNITS]``.
"""

import json
import resource
import sys
import time

import numpy as np

from derate.loop.batch import Batch, Specimen
from tests.plant.invented import CHANNEL, SENSOR, lamp
from tests.speed.plain_loop import PlainLoop

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
    """Print the best of several runs, ours and a loop written by hand in C beside it."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 128
    nominal = twelve()
    lamps = [twelve(share) for share in np.linspace(0.9, 1.1, units)]
    profile = nominal.profiles["hour"]
    begun = time.perf_counter()
    batch = Batch(nominal, profile)
    specimens = [Specimen(number, lamp) for number, lamp in enumerate(lamps)]
    short = profile.model_copy(update={"duration_s": 1.0})
    Batch(nominal, short).run(specimens[:1])
    made_s = time.perf_counter() - begun
    runs = [_seconds(batch, specimens) for _ in range(REPEATS)]
    by_hand = [PlainLoop(batch, specimens).run() for _ in range(REPEATS)]
    ours_s, theirs_s = min(s for s, _ in runs), min(s for s, _ in by_hand)
    ticks = units * HOUR_S / TICK_S
    print(json.dumps({"batch": {
        "units": units,
        "ticks_per_unit": HOUR_S / TICK_S,
        "made_ready_s": round(made_s, 2),
        "seconds": round(ours_s, 3),
        "unit_ticks_per_s": round(ticks / ours_s),
        "c_by_hand_unit_ticks_per_s": round(ticks / theirs_s),
        "share_of_c_by_hand": round(theirs_s / ours_s, 3),
        "largest_difference_k": float(np.abs(runs[0][1] - by_hand[0][1]).max()),
        "peak_memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }}, indent=2))  # fmt: skip


def _seconds(batch, specimens):
    start = time.perf_counter()
    result = batch.run(specimens)
    return time.perf_counter() - start, result.node_c


if __name__ == "__main__":
    main()
