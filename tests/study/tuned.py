"""Lamps small enough to be tuned in a moment, and to be tried setting by setting."""

from derate.lamp.lamp import Lamp
from tests.loop.lamps import spot

KEPT = ("floor", "hysteresis", "attack", "hold", "release", "filter_shift")
"""All settings but the two thresholds."""
POLICY = {
    "kind": "foldback", "start": "45 degC", "end": "60 degC", "floor": "10 %", "hysteresis": "0 K",
}  # fmt: skip


def one_node(*, limit_c=70.0, ambient_c=35.0, policy=POLICY, duration_s=400.0):
    """One node that warms beyond its limit unless light is held back; a control period a second."""
    raw = spot(
        nodes={},
        controller={"body": "c", "policy": dict(policy), "attack": "20 %/s", "release": "5 %/s"},
        timing={"control_period": 1.0, "adc_period": 1.0},
        profiles={"on": {"duration": duration_s, "ambient": ambient_c, "request": {"spot": 1.0}}},
    )
    raw["nodes"] = {"board": {"capacitance": 20.0, "limit": limit_c}}
    raw["links"] = [{"name": "air", "between": ["board", "ambient"], "resistance": 9.0}]
    return Lamp.model_validate(raw)
