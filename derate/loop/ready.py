"""Units made ready for the batch clock: their constants and their state, stacked."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.firmware.host import HostBody
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lanes import LANES
from derate.loop.abreast import Row, Side, Spell, side_by_side
from derate.loop.fixed_tick import Controller, Fixed, Found, Kept, Sensing, Unit
from derate.loop.schedule import Course
from derate.plant.abreast import TERMS
from derate.plant.plant import TOLERANCE_K, Plant
from derate.plant.stack import picked, stacked
from derate.plant.state import Interval
from derate.sensing.abreast import smooth_of
from derate.sensing.chain import PHASES, USES_PER_SENSOR, drive_of
from derate.sensing.circuit import from_lamp, packed, sense_packed

Array = NDArray[np.float64]
UNTRACED = -1


class Chunk(NamedTuple):
    """Units made ready: their numbers and lamps, all of them stacked, and rows for the traced."""

    numbers: tuple[int, ...]
    lamps: tuple[Lamp, ...]
    stack: Unit
    kept: Kept

    def abreast(self) -> tuple[Side, Row]:
        """The units in blocks for ``run_blocks``; the last one is repeated to fill its block."""
        full = np.minimum(np.arange(-(-len(self.numbers) // LANES) * LANES), len(self.numbers) - 1)
        unit: Unit = picked(self.stack, full)
        smooth = [smooth_of(*each) for each in zip(*unit.sensing[:3], strict=True)]
        (count, nodes), groups = unit.tally.peak_c.shape, unit.state.ripple_k.shape[1]
        blocks = side_by_side(
            Side(
                unit.number,
                unit.machine,
                unit.modes,
                stacked(smooth),
                unit.state,
                unit.tally,
                unit.interval,
                np.zeros((count, 2, nodes)),
                np.zeros((count, TERMS, groups, groups)),
                np.zeros((count, 1), np.int64),
                np.zeros((count, 1)),
            )
        )
        spell = Spell(
            np.zeros(count),
            np.zeros(count, bool),
            np.zeros(count),
            np.zeros(count, np.int64),
            np.zeros(count, np.uint32),
        )
        row = Row(unit.sensing, unit.controller, unit.found, spell)
        return blocks, row


class Ready:
    """Makes units ready that share a profile, a firmware and the topology of ``lamp``."""

    def __init__(
        self,
        lamp: Lamp,
        profile: Profile,
        course: Course,
        body: HostBody,
        seed: int,
        traced: frozenset[int],
    ) -> None:
        self.lamp, self.profile, self.course = lamp, profile, course
        self.seed, self.traced = seed, traced
        body.start()
        self.memory = np.frombuffer(body.state.ljust(body.memory_size, b"\0"), np.uint64)
        self.plant = Plant(lamp)
        self.fixed = Fixed(
            course.schedule,
            body.function_address("controller_step"),
            1 << lamp.driver.resolution_bits,
            int(self.plant.sensor_nodes[0]),
            seed,
            TOLERANCE_K,
        )

    def chunk(self, numbers: Sequence[int], lamps: Sequence[Lamp]) -> Chunk:
        """Units of these numbers and lamps; raises InputError where a lamp is of another kind."""
        plants = {id(lamp): self._plant(lamp) for lamp in lamps}
        traced = [number for number in numbers if number in self.traced]
        keeps = [traced.index(n) if n in self.traced else UNTRACED for n in numbers]
        units = [
            self._unit(number, plants[id(lamp)], row)
            for number, lamp, row in zip(numbers, lamps, keeps, strict=True)
        ]
        return Chunk(tuple(numbers), tuple(lamps), stacked(units), self._kept(len(traced)))

    def _plant(self, lamp: Lamp) -> Plant:
        """The plant of a unit at the start of the profile, all configurations known to it."""
        course, plant = self.course, Plant(lamp)
        if plant.node_names != self.plant.node_names:
            due = "the same nodes for all units, which may differ in numbers only"
            raise InputError(f"{lamp.source or lamp.name}: found other nodes in a unit, due {due}")
        plant.modes.clear()
        plant.configurations.clear()
        for airflow, degraded in course.configurations:
            plant.configure(airflow, degraded)
        plant.configure(*course.configurations[0])
        plant.reset(course.start_c, self.profile.start_c)
        return plant

    def _unit(self, number: int, plant: Plant, row: int) -> Unit:
        state, tally = plant.beginning()
        sensing = _sensing_of(plant.lamp)
        return Unit(
            number=np.array([number]),
            machine=plant.machine._replace(every_ripple=row != UNTRACED),
            modes=stacked(plant.modes),
            sensing=sensing,
            controller=self._controller(number, sensing, plant),
            state=state,
            tally=tally,
            interval=Interval(
                np.zeros(len(plant.lamp.channels)),
                np.zeros(len(plant.lamp.channels)),
                np.zeros(len(plant.lamp.ambients)),
                np.zeros(len(plant.lamp.sensors)),
                np.zeros(1),
            ),
            found=Found(
                np.zeros(1),
                np.zeros(1, np.int64),
                np.full(1, np.nan),
                np.full(1, np.nan),
                np.array([row]),
            ),
        )

    def _controller(self, number: int, sensing: Sensing, plant: Plant) -> Controller:
        """The controller after a reset; the codes are those at power-up without faults."""
        channels = len(plant.lamp.channels)
        codes = [
            sense_packed(n, table[:, :rows].copy(), float(c), 0.0, 0, self.seed, number, 0)
            for n, table, rows, c in zip(
                sensing.numbers,
                sensing.table,
                sensing.rows,
                plant.node_c[plant.sensor_nodes],
                strict=True,
            )
        ]
        return Controller(
            self.memory.copy(),
            np.array(codes, np.uint16),
            np.zeros(channels, np.uint16),
            np.zeros(channels, np.uint16),
            np.zeros(channels),
        )

    def _kept(self, rows: int) -> Kept:
        lamp, plant = self.lamp, self.plant
        channels, instants = len(lamp.channels), len(self.course.time_s)

        def empty(width: int, kind: type = float) -> Any:
            return np.zeros((rows, instants, width), kind)

        return Kept(
            empty(len(plant.node_names)),
            empty(len(plant.junction_ripple_k)),
            empty(len(lamp.sensors), np.int64),
            empty(1, np.int64),
            empty(1, np.int64),
            empty(channels),
            empty(channels),
            empty(channels),
        )


def _sensing_of(lamp: Lamp) -> Sensing:
    """The sensors of a lamp, packed."""
    numbers, tables = [], []
    for i, (name, sensor) in enumerate(lamp.sensors.items()):
        use = USES_PER_SENSOR * (1 + i)
        n, table = packed(from_lamp(sensor, use=use, where=f"sensors.{name}"))
        numbers.append(n)
        tables.append(table)
    rows = np.array([table.shape[1] for table in tables])
    disturbances = [sensor.disturbance for sensor in lamp.sensors.values()]
    return Sensing(
        np.array(numbers),
        np.array([np.pad(t, ((0, 0), (0, rows.max() - t.shape[1]))) for t in tables]),
        rows,
        np.array([bool(d.ground_v_per_a or d.supply_v_per_a) for d in disturbances]),
        np.array([PHASES[d.sampling] for d in disturbances]),
        drive_of(lamp.driver),
        np.array([channel.current_a for channel in lamp.channels.values()]),
    )
