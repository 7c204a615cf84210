"""A small lamp on which cut-outs and faults are tried, quick to run."""

from derate.lamp import Lamp
from tests.loop.lamps import spot

SWITCH = {"at": "board", "kind": "resetting", "trip": 75.0, "tolerance": 2.0, "reset": 60.0}


def lamp(cutout=None, controller=None, **tables):
    """The test spot with its C, a control period of half a second and a limit on its sink."""
    raw = spot(
        controller={"body": "c", "cutoff": 95.0, "max_jump": 10.0} | (controller or {}),
        timing={"control_period": 0.5},
        **{"nodes": {"sink": {"capacitance": 40.0, "limit": 90.0}}} | tables,
    )
    raw["sensors"]["ntc"]["to_ambient"] = 900.0
    if cutout is not None:
        raw["cutouts"] = {"switch": SWITCH | cutout}
    raw["profiles"]["on"]["airflow"] = {"at": [0.0, 60.0], "value": [1.0, 0.1]}
    return Lamp.model_validate(raw)
