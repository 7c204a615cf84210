"""Tolerances of a sensor: read from a file, zero when left out."""

from derate.lamp import load, starter_text
from derate.lamp.tolerance import Tolerance

TABLE = """
[sensors.ntc.tolerance]
resistor = "1 %"
resistor_drift = "100 ppm/K"
r25 = "3 %"
b_value = 0.01
supply = "2 %"
dissipation = "30 %"

[sensors.ntc.adc]"""


def test_tolerances_are_read_from_a_file(tmp_path):
    """Ratios and parts per million become plain ratios; 100 ppm/K is 1e-4 exactly."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text().replace("[sensors.ntc.adc]", TABLE), encoding="utf-8")
    found = load(path).sensors["ntc"].tolerance
    assert found == Tolerance(
        resistor=0.01, resistor_drift_per_k=1e-4, r25=0.03, b_value=0.01, supply=0.02,
        dissipation=0.3,
    )  # fmt: skip


def test_a_part_left_out_is_exact(starter):
    """A lamp file that says nothing about tolerances has none."""
    assert starter.sensors["ntc"].tolerance == Tolerance()
    assert set(Tolerance().model_dump().values()) == {0.0}
