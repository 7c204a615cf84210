"""Speed of drawing units: many at once, and a lamp of one. Prints JSON."""

import json
import timeit

from derate.loop.units import draw, unit_lamp
from tests.loop.test_units import made

UNITS = 10_000
RUNS = 5
KEYS = (
    *(
        f"emitters.white.{key}.{i}"
        for key in ("luminous_flux", "forward_voltage")
        for i in range(3)
    ),
    *(f"links.{name}.resistance" for name in ("interface", "fan", "still")),
    *(f"nodes.{name}.capacitance" for name in ("board", "sink")),
    *(f"sensors.ntc.divider.{part}" for part in ("resistor", "supply")),
    *(f"sensors.ntc.{part}" for part in ("thermistor.r25", "thermistor.b_value", "adc.gain")),
    "emitters.white.junction_to_solder_resistance",
    "channels.spot.current",
    "driver.efficiency",
    "airflow",
)
"""Twenty keys of the small spot."""
LAWS = ("normal", "uniform", "triangular", "lognormal")


def twenty():
    """A lamp with a table for each key, all laws among them, half of them in one group."""
    tables = {}
    for i, key in enumerate(KEYS):
        law = "uniform" if key.startswith("sensors") else LAWS[i % 4]
        tables[f"table_{i}"] = {"of": key, "spread": "1 %", "distribution": law}
        if i % 2:
            tables[f"table_{i}"]["group"] = "reel"
    return made(tables, driver={"efficiency": 0.9})


def main():
    """Print the best of several runs."""
    lamp = twenty()
    draws = draw(lamp, range(UNITS))
    draw_s = min(timeit.repeat(lambda: draw(lamp, range(UNITS)), number=1, repeat=RUNS))
    one_s = min(timeit.repeat(lambda: unit_lamp(lamp, draws, 7), number=20, repeat=RUNS)) / 20
    found = {
        "units": UNITS,
        "tolerances": len(draws.names),
        "draw_ms": round(draw_s * 1e3, 1),
        "unit_lamp_ms": round(one_s * 1e3, 2),
    }
    print(json.dumps({"units": found}, indent=2))


if __name__ == "__main__":
    main()
