"""Invented lamps for the tests of this room."""

import numpy as np

from derate.lamp.emitter import Emitter
from derate.lamp.lamp import Lamp

WHITE = {
    "current_a": (0.05, 0.1, 0.35, 0.7, 1.0, 1.5),
    "forward_voltage_v": (2.62, 2.70, 2.86, 2.99, 3.08, 3.21),
    "radiant_flux_w": (0.06, 0.118, 0.39, 0.73, 0.99, 1.36),
    "luminous_flux_lm": (19.0, 37.0, 124.0, 232.0, 314.0, 431.0),
    "forward_voltage_slope_v_per_k": -1.5e-3,
    "junction_c": (-40.0, 25.0, 85.0, 125.0, 150.0),
    "radiant_ratio": (1.05, 1.0, 0.93, 0.87, 0.83),
    "luminous_ratio": (1.06, 1.0, 0.91, 0.84, 0.79),
    "junction_to_solder_resistance_k_per_w": 4.0,
    "resistance_convention": "real",
    "junction_capacitance_j_per_k": 2.5e-3,
}
SENSOR = {
    "at": "board",
    "resistance_k_per_w": 10.0,
    "capacitance_j_per_k": 0.05,
    "thermistor": {"b_value_k": 3950.0, "resistance_25_ohm": 10e3},
    "divider": {
        "arrangement": "pull-up",
        "resistor_ohm": 10e3,
        "supply_v": 3.3,
        "reference": "ratiometric",
    },
    "adc": {"bits": 12},
}
CHANNEL = {
    "emitter": "white",
    "current_a": 0.7,
    "junction_limit_c": 110.0,
    "solder_point": "board",
}
NODES = {"board": {"capacitance_j_per_k": 6.0}, "sink": {"capacitance_j_per_k": 60.0}}
LINKS = (
    {"between": ("board", "sink"), "resistance_k_per_w": 0.6, "name": "paste"},
    {"between": ("sink", "ambient"), "resistance_k_per_w": 8.0, "airflow": True},
)


def emitter(**changes):
    """A white emitter."""
    return Emitter.model_validate({**WHITE, **changes})


def lamp(channels=None, *, emitters=None, sensors=None, nodes=NODES, links=LINKS, **parts):
    """A lamp of one channel with one emitter on a board with a sink, unless told otherwise."""
    return Lamp.model_validate(
        {
            "lamp": {"name": "Invented lamp of the tests"},
            "emitters": emitters or {"white": WHITE},
            "channels": channels or {"main": CHANNEL},
            "nodes": nodes,
            "links": links,
            "sensors": sensors or {"ntc": SENSOR},
            "controller": {
                "cutoff_c": 95.0,
                "safe_duty": 0.2,
                "policy": {"kind": "none"},
            },
            **parts,
        }
    )


def twelve_nodes(**parts):
    """Twelve nodes: two channels, one with branches on three boards, two sensors, two ambients."""
    boards = ("board_a", "board_b", "board_c")
    nodes = {name: {"capacitance_j_per_k": 2.0} for name in boards}
    nodes |= {
        "board": {"capacitance_j_per_k": 6.0},
        "sink": {"capacitance_j_per_k": 60.0},
        "housing": {"capacitance_j_per_k": 40.0, "limit_c": 60.0},
    }
    links = (
        *({"between": (name, "board"), "resistance_k_per_w": 1.0} for name in boards),
        *LINKS,
        {"between": ("sink", "housing"), "resistance_k_per_w": 2.0},
        {"between": ("housing", "room"), "resistance_k_per_w": 9.0},
    )
    channels = {
        "wide": CHANNEL | {"series": 3, "current_a": 0.35, "solder_point": boards},
        "spot": CHANNEL,
    }
    sensors = {"ntc": SENSOR, "rim": SENSOR | {"at": "housing"}}
    driver = {"efficiency": 0.9, "heat_node": "housing"}
    return lamp(
        channels,
        sensors=sensors,
        nodes=nodes,
        links=links,
        driver=driver,
        ambients=("ambient", "room"),
        **parts,
    )


def drive(plant, dt_s, duties, *, requests=None, ambient_c=None, sensor_heat_w=None):
    """Advance with plain numbers; requests as the duties, ambients 25 degC, no sensor heat."""
    ambients, sensors = len(plant.lamp.ambients), len(plant.lamp.sensors)
    duties = np.array(duties, dtype=float)
    plant.advance(
        dt_s,
        duties,
        duties if requests is None else np.array(requests, dtype=float),
        np.full(ambients, 25.0) if ambient_c is None else np.array(ambient_c, dtype=float),
        np.zeros(sensors) if sensor_heat_w is None else np.array(sensor_heat_w, dtype=float),
    )
    return plant.node_c.copy()
