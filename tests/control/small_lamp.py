"""A small lamp for tests of the controller. All its numbers are invented."""

import copy
from typing import Any

from derate.lamp import Lamp

FOLDBACK = {"kind": "foldback", "start": "50 degC", "end": "70 degC", "floor": 0.1}
FOLDBACK_WITH_HYSTERESIS = FOLDBACK | {"hysteresis": "3 K"}
STEPS = {
    "kind": "steps",
    "levels": [
        {"at": "50 degC", "limit": 0.75},
        {"at": "60 degC", "limit": 0.5},
        {"at": "70 degC", "limit": 0.125},
    ],
    "hysteresis": "4 K",
}
PI = {
    "kind": "pi",
    "setpoint": "60 degC",
    "gain": "0.05 1/K",
    "integral": "0.01 1/(K*s)",
    "floor": 0.1,
}
PREDICTIVE = {"kind": "predictive", "band": "8 K", "guard": "30 K", "floor": 0.1}
OPEN_LOOP = {"kind": "none"}
POLICIES = {
    "foldback": FOLDBACK,
    "foldback with hysteresis": FOLDBACK_WITH_HYSTERESIS,
    "steps": STEPS,
    "pi": PI,
    "predictive": PREDICTIVE,
    "none": OPEN_LOOP,
}

_SENSOR: dict[str, Any] = {
    "at": "board",
    "resistance": "10 K/W",
    "capacitance": "50 mJ/K",
    "thermistor": {"b_value": "3950 K", "resistance_25": "10 kohm"},
    "divider": {
        "arrangement": "pull-up",
        "resistor": "4.7 kohm",
        "supply": "3.3 V",
        "reference": "ratiometric",
    },
    "adc": {"bits": 12},
}
_LAMP: dict[str, Any] = {
    "lamp": {"name": "Invented test lamp"},
    "emitters": {
        "white": {
            "current": ["100 mA", "1 A"],
            "forward_voltage": ["2.7 V", "3.1 V"],
            "radiant_flux": ["110 mW", "980 mW"],
            "luminous_flux": ["36 lm", "310 lm"],
            "forward_voltage_slope": "-1.5 mV/K",
            "junction": ["25 degC", "150 degC"],
            "radiant_ratio": [1.0, 0.83],
            "luminous_ratio": [1.0, 0.79],
            "junction_to_solder_resistance": "4 K/W",
            "resistance_convention": "real",
            "junction_capacitance": "2.5 mJ/K",
        }
    },
    "nodes": {"board": {"capacitance": "20 J/K"}},
    "links": [{"between": ["board", "ambient"], "resistance": "8 K/W"}],
    "timing": {"control_period": "100 ms"},
}
_CHANNEL = {
    "emitter": "white",
    "current": "700 mA",
    "junction_limit": "120 degC",
    "solder_point": "board",
}
_CONTROLLER = {"cutoff": "90 degC", "safe_duty": 0.25, "clear_after": "0.5 s"}


def small_lamp(
    policy: dict[str, Any] = FOLDBACK,
    *,
    sensors: int = 1,
    channels: int = 2,
    arrangement: str = "pull-up",
    bits: int = 12,
    **controller: Any,
) -> Lamp:
    """A lamp with this policy; further keys, as in a file, go to its controller."""
    raw = copy.deepcopy(_LAMP)
    raw["channels"] = {f"channel_{i}": _CHANNEL for i in range(channels)}
    sensor = copy.deepcopy(_SENSOR)
    sensor["divider"]["arrangement"] = arrangement
    sensor["adc"]["bits"] = bits
    raw["sensors"] = {f"ntc_{i}": sensor for i in range(sensors)}
    raw["controller"] = _CONTROLLER | {"policy": policy} | controller
    return Lamp.model_validate(raw)
