"""What no lamp needs and no run survives: sizes, times and repetitions beyond all bounds."""

import pytest

from derate.errors import InputError
from derate.lamp import load, starter_text

FLOOD = '{ at = ["0 s", "90 s"], value = [1.0, 0.1], every = "240 s" }'
FLICKER = '{ at = ["0 s", "1 ns"], value = [1.0, 0.1], every = "1 ns" }'
RANGE = 'range = ["-40 degC", "125 degC"]'


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"0.6 K/W"', '"1e-15 K/W"', "links[entry 1].resistance"),
        ('"18 K/W"', '"1e10 K/W"', "sensors.ntc.resistance"),
        ('"50 mJ/K"', '"1e-12 J/K"', "sensors.ntc.capacitance"),
        ('"60 J/K"', '"1e12 J/K"', "nodes.housing.capacitance"),
        ('efficiency = "91 %"', "efficiency = 1e-6", "driver.efficiency"),
        ('"30 min"', '"1 year"', "profiles.evening.duration"),
        ('adc_period = "50 ms"', 'adc_period = "1e-13 s"', "timing.adc_period"),
        ('adc_period = "50 ms"', 'adc_period = "1 ns"', "timing.adc_period"),
        ('control_period = "100 ms"', 'control_period = "1 ns"', "timing.control_period"),
        ('update_period = "0 s"', 'update_period = "10 ns"', "timing.update_period"),
        (FLOOD, FLICKER, "profiles.evening.request.flood.every"),
        (RANGE, RANGE.replace("125", "340"), "sensors.ntc.thermistor.range"),
    ],
)
def test_what_no_run_survives_is_refused(old, new, key, tmp_path):
    """One sentence names the key, before anything is computed.

    Causes: no bound on resistances (silently wrong temperatures), on efficiency, on the number
    of ticks (memory) and turns (hours), on periods (0 ns never ends), on readings (16 bit).
    """
    path = tmp_path / "boundless.toml"
    assert old in starter_text()
    path.write_text(starter_text().replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as told:
        load(path)
    assert f"{key}: found " in str(told.value)
