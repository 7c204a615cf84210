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


FINS = {
    "of": "sink",
    "kind": "fins",
    "size_m": (0.06, 0.04),
    "fins": 7,
    "fin_height_m": 0.015,
    "fin_thickness_m": 0.001,
    "material": "aluminium_6061",
    "emissivity": 0.8,
    "airflow_m_per_s": 1.5,
}
RIM = {"of": "board", "kind": "given", "resistance_k_per_w": 60.0, "rise_k": 40.0}
PASTE = ({"between": ("board", "sink"), "resistance_k_per_w": 0.6, "name": "paste"},)
STRONG = {"main": CHANNEL | {"series": 3, "current_a": 1.0, "junction_limit_c": 140.0}}


def shedding(**parts):
    """A lamp whose only ways out are two surfaces."""
    return lamp(STRONG, **({"surfaces": {"fins": FINS, "rim": RIM}, "links": PASTE} | parts))


AREA_RESISTANCE_M2_K_PER_W = 30e-6
SOLDERED = WHITE | {
    "footprint_m": (3.3e-3, 3.3e-3),
    "solder": {"thickness_m": 80e-6, "conductivity_w_per_m_k": 58.0, "voids": 0.1},
}
BOARD = {
    "size_m": (30e-3, 20e-3),
    "cell_m": 1e-3,
    "copper": {"thickness_m": 35e-6},
    "dielectric": {"thickness_m": 100e-6, "conductivity_w_per_m_k": 2.2},
    "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
    "interface": {"to": "sink", "area_resistance_m2_k_per_w": AREA_RESISTANCE_M2_K_PER_W},
    "front": {"facing": "up", "emissivity": 0.9},
}
PLACED = {key: value for key, value in CHANNEL.items() if key != "solder_point"}
ON_BOARD = {
    "pair": PLACED | {"series": 2, "at": ((9e-3, 8e-3), (21e-3, 8e-3)), "pad_m": (6e-3, 5e-3)},
    "lone": PLACED | {"at": ((15e-3, 15e-3),), "pad_m": (5e-3, 4e-3)},
}


def boarded(channels=ON_BOARD, **parts):
    """A small board with three emitters and a sensor on a sink of capacity."""
    described = {
        "emitters": {"white": SOLDERED},
        "sensors": {"ntc": SENSOR | {"at": (5e-3, 15e-3)}},
        "nodes": {"sink": {"capacitance_j_per_k": 30.0}},
        "links": ({"between": ("sink", "ambient"), "resistance_k_per_w": 6.0},),
        "board": BOARD,
        "driver": {"heat_node": "board", "efficiency": 0.9},
    }
    return lamp(channels, **(described | parts))


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
