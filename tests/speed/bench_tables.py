"""Times the building of reading tables and prints JSON; ``python -m tests.speed.bench_tables``.

Nothing is asserted: machines differ, and so does what else they do.
"""

import json
import time

from derate.sensing.circuit import from_lamp
from derate.sensing.lookup import build
from derate.sensing.tables import KINDS, build_table, trade
from tests.sensing.invented import B_3950_10K, sensor

RANGE_C = (0.0, 125.0)
BITS = (8, 10, 12, 14, 16)
ERRORS_K = (1.0, 0.5, 0.25, 0.1, 0.05)
BYTES = 128


def timed(call):
    """Result and seconds of a call."""
    start = time.perf_counter()
    found = call()
    return found, round(time.perf_counter() - start, 4)


def figures(table, seconds):
    """What a table costs and holds."""
    return {
        "segments": table.segments,
        "lower_bound": table.lower_bound,
        "bytes": table.bytes,
        "operations": table.operations,
        "error_k": round(table.error_k, 4),
        "seconds": seconds,
    }


def times_of(bits):
    """Figures of every kind for a converter of so many bits."""
    described = sensor(thermistor={**B_3950_10K, "range_c": RANGE_C}, adc={"bits": bits})
    circuit = from_lamp(described)
    found = {}
    for kind in KINDS:
        most = {} if kind == "direct" else {"max_bytes": BYTES}
        asked = {f"{BYTES} bytes": most} if most else {}
        asked |= {f"{error_k:g} K": {"max_error_k": error_k} for error_k in ERRORS_K}
        if kind == "code steps" and bits == min(BITS):
            asked = {f"{BYTES} bytes": most}
        for name, limits in asked.items():
            made = timed(lambda k=kind, m=limits: build_table(circuit, RANGE_C, kind=k, **m))
            found[f"{kind}, {name}"] = figures(*made)
    found["trade_seconds"] = timed(lambda: trade(circuit, RANGE_C))[1]
    found["firmware_table_seconds"] = timed(lambda: build(circuit, RANGE_C))[1]
    return found


def main():
    """Print the figures after a first round that compiles."""
    times_of(BITS[0])
    print(json.dumps({f"{bits} bits": times_of(bits) for bits in BITS}, indent=2))


if __name__ == "__main__":
    main()
