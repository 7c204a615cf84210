"""Small lamps for the tests of the loop: one by hand, and any number drawn at random."""

import copy

from hypothesis import strategies as st

SPOT = {
    "lamp": {"name": "Test spot", "note": "Invented data."},
    "emitters": {
        "white": {
            "current": [0.1, 0.5, 1.0],
            "forward_voltage": [2.7, 2.9, 3.1],
            "radiant_flux": [0.12, 0.6, 1.1],
            "luminous_flux": [38.0, 190.0, 340.0],
            "forward_voltage_slope": -0.002,
            "junction": [25.0, 75.0, 125.0],
            "radiant_ratio": [1.0, 0.94, 0.87],
            "luminous_ratio": [1.0, 0.93, 0.85],
            "junction_to_solder_resistance": 3.0,
            "resistance_convention": "real",
            "junction_capacitance": 0.008,
        }
    },
    "channels": {
        "spot": {
            "emitter": "white",
            "series": 3,
            "current": 1.0,
            "junction_limit": 120.0,
            "solder_point": "board",
        }
    },
    "nodes": {"board": {"capacitance": 8.0}, "sink": {"capacitance": 40.0}},
    "links": [
        {"name": "interface", "between": ["board", "sink"], "resistance": 0.8},
        {"name": "fan", "between": ["sink", "ambient"], "resistance": 3.0, "airflow": True},
        {"name": "still", "between": ["sink", "ambient"], "resistance": 12.0},
    ],
    "sensors": {
        "ntc": {
            "at": "board",
            "resistance": 20.0,
            "capacitance": 0.05,
            "thermistor": {"b_value": 3950.0, "resistance_25": 10e3, "range": [-30.0, 125.0]},
            "divider": {
                "arrangement": "pull-up",
                "resistor": 4700.0,
                "supply": 3.3,
                "reference": "ratiometric",
            },
            "adc": {"bits": 12},
        }
    },
    "driver": {"resolution": 12},
    "timing": {"control_period": 0.1},
    "controller": {
        "body": "python",
        "cutoff": 100.0,
        "safe_duty": 0.1,
        "policy": {"kind": "foldback", "start": 45.0, "end": 70.0, "floor": 0.1},
    },
    "profiles": {"on": {"duration": 120.0, "ambient": 25.0, "request": {"spot": 1.0}}},
}
"""A complete lamp file as plain numbers in the units of the fields."""


def spot(**tables):
    """The test spot with whole tables of the lamp file replaced or added."""
    raw = copy.deepcopy(SPOT)
    for name, table in tables.items():
        raw[name] = raw[name] | table if isinstance(table, dict) and name in raw else table
    return raw


_resistance = st.floats(0.05, 20.0)
_PLATE = {"kind": "plate", "size": [0.1, 0.06], "facing": "side", "emissivity": 0.8}
_SURFACES = [
    {"kind": "given", "resistance": 15.0, "rise": 40.0},
    _PLATE,
    _PLATE | {"facing": "up", "airflow": 1.5},
]


@st.composite
def any_lamp(draw):
    """A lamp file drawn at random: physically sensible mostly, but not always valid."""
    raw = copy.deepcopy(SPOT)
    names = [f"n{i}" for i in range(draw(st.integers(1, 4)))]
    raw["nodes"] = {n: {"capacitance": draw(st.sampled_from([0.0, 0.5, 5.0, 80.0]))} for n in names}
    raw["links"] = [
        {
            "between": [name, draw(st.sampled_from([*names[:i], "ambient"]))],
            "resistance": draw(_resistance),
            "airflow": draw(st.booleans()),
        }
        for i, name in enumerate(names)
    ]
    raw["surfaces"] = {
        f"s{i}": draw(st.sampled_from(_SURFACES)) | {"of": draw(st.sampled_from(names))}
        for i in range(draw(st.integers(0, 2)))
    }
    raw["channels"] = {
        f"c{i}": {
            "emitter": "white",
            "series": draw(st.integers(1, 4)),
            "parallel": (parallel := draw(st.integers(1, 3))),
            "current": parallel * draw(st.floats(0.15, 0.95)),
            "junction_limit": 120.0,
            "solder_point": draw(st.sampled_from(names)),
            "forward_voltage_offset": [draw(st.floats(-0.05, 0.05)) for _ in range(parallel)],
        }
        for i in range(draw(st.integers(1, 3)))
    }
    raw["sensors"]["ntc"]["at"] = draw(st.sampled_from(names))
    raw["sensors"]["ntc"]["adc"] = {
        "bits": draw(st.sampled_from([8, 10, 12])),
        "noise": draw(st.sampled_from([0.0, 1.0])),
        "oversampling": draw(st.sampled_from([1, 4])),
    }
    raw["driver"] = {
        "dimming": draw(st.sampled_from(["pwm", "current"])),
        "resolution": draw(st.sampled_from([8, 12])),
        "efficiency": draw(st.sampled_from([1.0, 0.9])),
        "heat_node": draw(st.sampled_from(names)),
    }
    raw["timing"] = {
        "control_period": 0.5,
        "adc_period": draw(st.sampled_from([0.1, 0.5])),
        "adc_phase": draw(st.sampled_from([0.0, 0.05])),
        "control_phase": draw(st.sampled_from([0.0, 0.0, 0.2])),
        "control_jitter": draw(st.sampled_from([0.0, 0.05])),
        "update_period": draw(st.sampled_from([0.0, 0.15])),
    }
    raw["controller"] |= {
        "policy": draw(_policy),
        "filter_shift": draw(st.integers(0, 4)),
        "release": draw(st.sampled_from([0.02, 0.5])),
        "attack": draw(st.sampled_from([0.05, 5.0])),
        "hold": draw(st.sampled_from([0.0, 2.0])),
    }
    raw["profiles"] = {"any": draw(_profile(list(raw["channels"])))}
    return raw


_policy = st.sampled_from(
    [
        {"kind": "none"},
        {"kind": "foldback", "start": 40.0, "end": 60.0, "floor": 0.1, "hysteresis": 1.0},
        {"kind": "steps", "hysteresis": 2.0, "levels": [{"at": 45.0, "limit": 0.5}]},
        {"kind": "pi", "setpoint": 50.0, "gain": 0.05, "integral": 0.002},
    ]
)
_share = st.sampled_from([0.0, 0.01, 0.5, 1.0])


@st.composite
def _profile(draw, channels):
    fault = st.sampled_from(["sensor open", "sensor short", "sensor stuck"])
    return {
        "duration": 20.0,
        "ambient": {
            "at": [0.0, 12.0],
            "value": [draw(st.floats(-10, 40)), 25.0],
            "between": "line",
        },
        "airflow": {"at": [0.0, 8.0], "value": [1.0, draw(st.sampled_from([0.1, 1.0, 3.0]))]},
        "request": {
            c: {"at": [0.0, 5.0, 6.3], "value": [draw(_share), draw(_share), draw(_share)]}
            for c in channels
        },
        "events": [{"kind": draw(fault), "sensor": "ntc", "at": 9.95, "until": 14.0}],
    }
