"""Speed of the surfaces' tables: building them, and looking one heat up. Prints JSON."""

import json
import time
import timeit

import numba

from derate.plant.surface.exchange import exchange_of, heat_out_w
from tests.plant.surface.invented import KINDS, with_surfaces

LOOKUPS = 1_000_000
RUNS = 5


@numba.njit(error_model="numpy")
def many_w(exchange, s, lookups):
    """Sum of heats at changing temperatures [W]."""
    total = 0.0
    for i in range(lookups):
        total += heat_out_w(exchange, s, 50.0 + 0.1 * (i % 7), 25.0, 0.8)
    return total


def lookup_ns(exchange, s: int) -> float:
    """Nanoseconds of one look-up, best of five runs."""
    many_w(exchange, s, 1)
    runs = timeit.repeat(lambda: many_w(exchange, s, LOOKUPS), number=1, repeat=RUNS)
    return round(min(runs) / LOOKUPS * 1e9, 1)


if __name__ == "__main__":
    index = {"board": 0, "sink": 1}
    lamp = with_surfaces(**KINDS)
    begin = time.perf_counter()
    exchange = exchange_of(lamp, index)
    first_ms = (time.perf_counter() - begin) * 1e3
    runs = timeit.repeat(lambda: exchange_of(lamp, index), number=1, repeat=RUNS)
    found = {
        "surfaces": len(KINDS),
        "tables_first_ms": round(first_ms, 1),
        "tables_ms": round(min(runs) * 1e3, 1),
        "lookup_ns": {name: lookup_ns(exchange, s) for s, name in enumerate(KINDS)},
    }
    print(json.dumps({"surfaces": found}, indent=2))
