"""The batch benchmark's lamp run by a loop written by hand in C with OpenMP, for comparison."""

import ctypes
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np

from derate.loop.batch import Batch, Specimen
from derate.plant.emission import CURRENT, DRIVEN, LUMENS, VOLTS, WATTS, shine
from derate.plant.emitter import LUMINOUS_RATIO, RADIANT_RATIO
from derate.plant.factors import CHARGE, DECAY, MEAN_CHARGE, MEAN_HOLD, factors
from derate.plant.state import BEGIN

SOURCE = Path(__file__).with_suffix(".c")
FLAGS = ("-O3", "-march=native", "-fopenmp", "-shared", "-fPIC", "-std=gnu11")
STEP = ctypes.CFUNCTYPE(ctypes.c_uint32, *[ctypes.c_void_p] * 5)
WHOLES = [
    "nodes",
    "modes",
    "channels",
    "inputs",
    "ambients",
    "pieces",
    "ticks",
    "junction",
    "sensor",
    "levels",
    "bits",
    "pull_up",
]
NUMBERS = ["tick_s", "ntc_a", "ntc_b", "ntc_c", "resistor_ohm", "supply_v", "noise_lsb"]
PER_CHANNEL = ["current_a", "volts", "slope", "reference_c", "watts", "lumens"]
OF_UNIT = [
    "decay",
    "charge",
    "mean_hold",
    "mean_charge",
    "drive",
    "response",
    "z",
    "node_c",
    "peak_c",
    "light_lm_s",
    "asked_lm_s",
    "memory",
]


class Lamp(ctypes.Structure):
    """struct lamp."""

    _fields_ = [
        *((name, ctypes.c_int32) for name in WHOLES),
        *((name, ctypes.c_void_p) for name in ("row", "ambient_c", "requests")),
        *((name, ctypes.c_void_p) for name in ("radiant", "luminous")),
        *((name, ctypes.c_double) for name in NUMBERS),
        *((name, ctypes.c_void_p) for name in PER_CHANNEL),
        ("step", ctypes.c_void_p),
        ("settings", ctypes.c_void_p),
        ("memory_size", ctypes.c_int32),
    ]


class Unit(ctypes.Structure):
    """struct unit."""

    _fields_ = [*((name, ctypes.c_void_p) for name in OF_UNIT), ("number", ctypes.c_int32)]


class PlainLoop:
    """Units of a batch, as the C takes them; needs a compiler with OpenMP."""

    def __init__(self, batch: Batch, specimens: list[Specimen]) -> None:
        self.kept = []
        folder = tempfile.mkdtemp()
        library = Path(folder) / "plain_loop.so"
        command = [shutil.which("gcc") or "cc", *FLAGS, str(SOURCE), "-o", str(library), "-lm"]
        subprocess.run(command, check=True)
        self.run_all = ctypes.CDLL(str(library)).run_all
        self.batch, self.specimens = batch, specimens
        self.chunk = batch.ready.chunk(specimens, traced=False)
        self.lamp = self._lamp()
        self.units = (Unit * len(specimens))(*map(self._unit, range(len(specimens))))

    def _at(self, array):
        array = np.ascontiguousarray(array)
        self.kept.append(array)
        return array.ctypes.data

    def _lamp(self):
        course = self.batch.ready.course(0)
        schedule, fixed = course.schedule, self.batch.ready.fixed(course, self.chunk.controllers)
        plant, lamp = self.batch.ready.plant, self.batch.ready.lamp
        emission, lit = plant.machine.emission, plant.state.lit
        ones = np.ones(len(lamp.channels))
        shine(emission, lit, plant.node_c[plant.first_junction :], ones, ones)
        of = {
            "nodes": len(plant.node_names), "modes": len(plant.modes[0].rate),
            "channels": len(lamp.channels),
            "inputs": len(plant.modes[0].drive) - len(lamp.ambients),
            "ambients": len(lamp.ambients), "pieces": emission.curves.shape[2],
            "ticks": len(schedule.dt_s), "junction": plant.first_junction,
            "sensor": int(plant.sensor_nodes[0]), "levels": fixed.levels,
        }  # fmt: skip
        sensor = lamp.sensors["ntc"]
        numbers = self.chunk.stack.sensing.numbers[0, 0]
        curves, now = emission.curves[0], lit.branch[DRIVEN]
        kinds = emission.emitter[emission.channel_of[:, 2]]
        values = of | {
            "bits": sensor.adc.bits, "pull_up": sensor.divider.arrangement == "pull-up",
            "row": self._at(schedule.row.astype(np.int32)),
            "ambient_c": self._at(schedule.acting.ambient_c),
            "requests": self._at(schedule.acting.requests_q15.astype(np.uint16)),
            "radiant": self._at(curves[RADIANT_RATIO]),
            "luminous": self._at(curves[LUMINOUS_RATIO]),
            "tick_s": float(schedule.dt_s[0]),
            **dict(zip(("ntc_a", "ntc_b", "ntc_c"), numbers[:3].tolist(), strict=True)),
            "resistor_ohm": sensor.divider.resistor_ohm, "supply_v": sensor.divider.supply_v,
            "noise_lsb": sensor.adc.noise_lsb,
            "current_a": self._at(now[:, CURRENT]), "volts": self._at(now[:, VOLTS]),
            "slope": self._at(kinds[:, 0]), "reference_c": self._at(kinds[:, 1]),
            "watts": self._at(now[:, WATTS]), "lumens": self._at(now[:, LUMENS]),
            "step": fixed.step, "settings": int(self.chunk.stack.controller.settings[0, 0]),
            "memory_size": self.chunk.stack.controller.memory[0].nbytes,
        }  # fmt: skip
        return Lamp(**values)

    def _unit(self, u):
        stack, nodes = self.chunk.stack, self.lamp.nodes
        modes = type(stack.modes)(*(part[u, 0] for part in stack.modes))
        slot = stack.state.steps[u][factors(modes, stack.state.steps[u], self.lamp.tick_s)]
        count = self.lamp.modes
        z, node_c = stack.state.cause[u, BEGIN, :count], stack.state.node_c[u, BEGIN]
        values = [
            *(slot[row, :count] for row in (DECAY, CHARGE, MEAN_HOLD, MEAN_CHARGE)),
            modes.drive, modes.response[:count, :nodes], z.copy(), node_c.copy(), node_c.copy(),
            np.zeros(self.lamp.channels), np.zeros(self.lamp.channels),
            stack.controller.memory[u].copy(),
        ]  # fmt: skip
        return Unit(*map(self._at, values), self.specimens[u].number)

    def run(self):
        """Run all units once; seconds taken, and temperatures at the end (U, N) [degC]."""
        start = time.perf_counter()
        self.run_all(ctypes.byref(self.lamp), self.units, len(self.specimens))
        seconds = time.perf_counter() - start
        doubles = ctypes.c_double * self.lamp.nodes
        return seconds, np.array([list(doubles.from_address(unit.node_c)) for unit in self.units])
