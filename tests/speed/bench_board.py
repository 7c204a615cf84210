"""Times the board's way from layers to a small network; ``python -m tests.speed.bench_board``.

Prints one JSON document. Nothing is asserted: machines differ, and so does what else they do.
"""

import json
import os
import resource
import time

from derate.cli import LINEAR_ALGEBRA

os.environ.setdefault(LINEAR_ALGEBRA, "1")  # as the command line does, before numpy comes

import numpy as np

from derate.plant.board.full import cells_of
from derate.plant.board.layout import Layout, Pad
from derate.plant.board.lumped import lump
from derate.plant.board.shapes import Rectangle, rectangle_corners
from tests.plant.board.invented_board import ALUMINIUM_BOARD, LAMINATE_BOARD

ACCURACY, REPEATS = 0.01, 3
PAD_M, FOOTPRINT_M = (7e-3, 6e-3), (3.3e-3, 3.3e-3)


def layout(side_m, cell_m, at):
    """A square board with emitters at these places and a sensor in its middle."""
    pads = {
        f"solder.main.{k + 1}": Pad(Rectangle(*spot, *PAD_M), Rectangle(*spot, *FOOTPRINT_M))
        for k, spot in enumerate(at)
    }
    places = {"place.ntc": (side_m / 2, side_m / 2)}
    return Layout(rectangle_corners(side_m, side_m), cell_m, pads=pads, places=places)


def in_rows(side_m, columns, rows):
    """Places in even columns and rows."""
    return [
        (side_m * (i + 0.5) / columns, side_m * (j + 0.5) / rows)
        for i in range(columns)
        for j in range(rows)
    ]


def anywhere(side_m, count):
    """Places drawn at random, so that next to no two share a line of the grid."""
    return np.random.default_rng(1).uniform(5e-3, side_m - 5e-3, (count, 2)).tolist()


def figures(stack, described):
    """Seconds (least of a few) and processor seconds, size and errors of one board."""
    times = []
    for _ in range(REPEATS):
        start, busy = time.perf_counter(), time.process_time()
        full = cells_of(stack, described)
        board = lump(full, stack.exchange_w_per_m2_k, ACCURACY)
        times.append((time.perf_counter() - start, time.process_time() - busy))
    return {
        "seconds": round(min(times)[0], 2),
        "processor_seconds": round(min(spent for _, spent in times), 2),
        "cells": len(full.cells),
        "nodes": board.error.order,
        "transient_error": round(board.error.transient, 5),
        "frequency_error": round(board.error.frequency, 5),
        "degraded_error": round(board.error.degraded, 5),
        "steady_error": board.error.steady,
    }


def main():
    """Print the figures of boards of several kinds."""
    small = layout(0.05, 1e-3, in_rows(0.05, 2, 2))
    rows = layout(0.1, 1e-3, in_rows(0.1, 4, 3))
    found = {
        "50 x 50 mm, 4 emitters": figures(ALUMINIUM_BOARD, small),
        "100 x 100 mm, 12 emitters in rows": figures(ALUMINIUM_BOARD, rows),
        "100 x 100 mm, 12 emitters anywhere": figures(
            ALUMINIUM_BOARD, layout(0.1, 1e-3, anywhere(0.1, 12))
        ),
        "100 x 100 mm, laminate with vias, 12 emitters in rows": figures(LAMINATE_BOARD, rows),
    }
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"board": found, "peak_memory_mb": round(peak_mb)}, indent=2))


if __name__ == "__main__":
    main()
