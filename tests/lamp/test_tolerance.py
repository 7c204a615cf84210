"""Tolerances of a sensor: read from a file, zero when left out."""

from derate.lamp.tolerance import Tolerance


def test_tolerances_are_read_from_a_file(starter):
    """Ratios and parts per million become plain ratios; 100 ppm/K is 1e-4 exactly."""
    assert starter.sensors["ntc"].tolerance == Tolerance(
        resistor=0.01, resistor_drift_per_k=1e-4, r25=0.03, b_value=0.01, supply=0.05,
        dissipation=0.3,
    )  # fmt: skip


def test_a_part_left_out_is_exact():
    """Without a word about it, a part has no tolerance."""
    assert set(Tolerance().model_dump().values()) == {0.0}
