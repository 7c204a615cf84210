"""Units made ready for the batch clock: their constants and their state, stacked."""

import copy
import threading
from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.firmware.host import HostBody
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lanes import LANES
from derate.loop.abreast import Row, Side, Spell, side_by_side
from derate.loop.controllers import (
    Compiled,
    Controllers,
    Interpreted,
    Memory,
    Reference,
    interpreted_because,
)
from derate.loop.course import Course, course_of, jitters
from derate.loop.fixed_tick import Controller, Fixed, Found, Kept, Sensing, Unit
from derate.loop.own_c import OwnC
from derate.plant.crests_abreast import TERMS
from derate.plant.plant import TOLERANCE_K, Plant
from derate.plant.stack import picked, stacked
from derate.plant.state import Interval
from derate.sensing.abreast import Smooth, smooth_of
from derate.sensing.chain import PHASES, USES_PER_SENSOR, chains_of, drive_of
from derate.sensing.circuit import from_lamp, packed, sense_packed

Array = NDArray[np.float64]
UNTRACED = -1
KEPT_PLANTS = 64
"""Lamps made ready that are kept for another run: a set of corners, not a whole batch."""
KEPT_COURSES = 64
"""Courses that are kept for another run: one, or those of corners whose tasks jitter."""


@dataclass(frozen=True, eq=False)
class Specimen:
    """One unit to be run.

    ``number``: its noise is a function of the seed, this and the tick; ``lamp``: its plant and
    sensors; ``firmware``: the lamp whose settings and reading table its firmware carries, None for
    the nominal one; ``shift_k`` [K]: of every ambient; ``airflow`` [-]: factor on the profile's.
    """

    number: int
    lamp: Lamp
    firmware: Lamp | None = None
    shift_k: float = 0.0
    airflow: float = 1.0


class Made(NamedTuple):
    """A lamp made ready at the start of the profile."""

    plant: Plant
    sensing: Sensing
    smooth: Smooth


class Chunk(NamedTuple):
    """Units made ready and stacked, rows for the traced, and what must live as long as they run."""

    specimens: tuple[Specimen, ...]
    stack: Unit
    smooth: Smooth
    kept: Kept
    controllers: Controllers

    def abreast(self) -> tuple[Side, Row]:
        """The units in blocks for ``run_blocks``; the last one is repeated to fill its block."""
        units = len(self.specimens)
        full = np.minimum(np.arange(-(-units // LANES) * LANES), units - 1)
        unit: Unit = picked(self.stack, full)
        (count, nodes), groups = unit.tally.peak_c.shape, unit.state.ripple_k.shape[1]
        blocks = side_by_side(
            Side(
                unit.number,
                unit.machine,
                unit.modes,
                picked(self.smooth, full),
                unit.state,
                unit.tally,
                unit.interval,
                np.zeros((count, 2, nodes)),
                np.zeros((count, TERMS, groups, groups)),
                np.zeros((count, 1), np.int64),
                unit.place,
            )
        )
        spell = Spell(
            np.zeros(count),
            np.zeros(count, bool),
            np.zeros(count),
            np.zeros(count, np.int64),
            np.full(count, np.nan),
        )
        return blocks, Row(unit.sensing, unit.controller, unit.found, spell)


class Ready:
    """Makes units ready that share a profile, a kind of policy and the topology of ``lamp``."""

    def __init__(self, lamp: Lamp, profile: Profile, seed: int) -> None:
        self.lamp, self.profile, self.seed = lamp, profile, seed
        self.jitters = jitters(lamp)
        self.chains = chains_of(lamp)
        self.interpreted = interpreted_because(lamp) is not None
        ours = lamp.controller.body == "c" and lamp.controller.c is None
        self.host = HostBody(lamp, self.chains) if ours else None
        self.own_c = None if self.interpreted or lamp.controller.c is None else OwnC()
        self.plant = Plant(lamp)
        self._made: OrderedDict[tuple[Hashable, ...], tuple[Lamp, Made]] = OrderedDict()
        self._courses: OrderedDict[int, Course] = OrderedDict()
        self._lock = threading.Lock()

    def through(self, profile: Profile) -> "Ready":
        """The same for another profile; what is made ready serves both where they begin alike."""
        other = copy.copy(self)
        other.profile, other._courses = profile, OrderedDict()
        return other

    def course(self, number: int) -> Course:
        """The course of a unit of this number; one for all where no task jitters."""
        key = self.whose(number)
        with self._lock:
            if key not in self._courses:
                self._courses[key] = course_of(self.lamp, self.profile, self.seed, key)
            while len(self._courses) > KEPT_COURSES:
                self._courses.popitem(last=False)
            return self._courses[key]

    def fixed(self, course: Course, controllers: Controllers) -> Fixed:
        """What the kernels take of a course and of all units."""
        return Fixed(
            course.schedule,
            self.lamp.timing.update_period_s == 0.0,
            controllers.step,
            1 << self.lamp.driver.resolution_bits,
            int(self.plant.sensor_nodes[0]),
            self.seed,
            TOLERANCE_K,
        )

    def whose(self, number: int) -> int:
        """The number of the unit whose course this one takes: 0 where no task jitters."""
        return number if self.jitters else 0

    def chunk(self, specimens: Sequence[Specimen], *, traced: bool) -> Chunk:
        """Units of one course made ready; raises InputError where one is of another kind."""
        controllers = self._controllers()
        units, smooth = [], []
        for row, specimen in enumerate(specimens):
            made = self.made(specimen)
            smooth.append(made.smooth)
            units.append(self._unit(specimen, made, controllers, row if traced else UNTRACED))
        instants = len(self.course(specimens[0].number).time_s)
        kept = self._kept(len(specimens) if traced else 0, instants)
        return Chunk(tuple(specimens), stacked(units), stacked(smooth), kept, controllers)

    def _controllers(self) -> Controllers:
        if self.interpreted:
            return Interpreted()
        if self.own_c is not None:
            return self.own_c
        if self.host is None:
            return Compiled(self.lamp, self.chains)
        return Reference(self.lamp, self.chains, self.host)

    def made(self, specimen: Specimen) -> Made:
        """The lamp of a specimen made ready, from the last ones where it is among them."""
        course = self.course(specimen.number)
        links = tuple((air, *sorted(worse.items())) for air, worse in course.configurations)
        begun = (self.profile.start_c, *course.start_c.tolist())
        key = (id(specimen.lamp), specimen.shift_k, specimen.airflow, links, begun)
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
                return self._made[key][1]
        plant, sensing = self._plant(specimen), _sensing_of(specimen.lamp)
        made = Made(plant, sensing, smooth_of(sensing.numbers, sensing.table, sensing.rows))
        with self._lock:
            self._made[key] = specimen.lamp, made
            while len(self._made) > KEPT_PLANTS:
                self._made.popitem(last=False)
        return made

    def plant_of(self, lamp: Lamp) -> Plant:
        """The plant of a unit, its board in the nodes of the nominal one."""
        return Plant(lamp, nominal=self.plant)

    def _plant(self, specimen: Specimen) -> Plant:
        """The plant of a unit at the start of the profile, all configurations known to it."""
        course, lamp = self.course(specimen.number), specimen.lamp
        plant = self.plant_of(lamp)
        if plant.node_names != self.plant.node_names:
            due = "the same nodes for all units, which may differ in numbers only"
            raise InputError(f"{lamp.source or lamp.name}: found other nodes in a unit, due {due}")
        plant.modes.clear()
        plant.configurations.clear()
        for airflow, degraded in course.configurations:
            plant.configure(specimen.airflow * airflow, degraded)
        airflow, degraded = course.configurations[0]
        plant.configure(specimen.airflow * airflow, degraded)
        plant.reset(course.start_c + specimen.shift_k, self.profile.start_c)
        return plant

    def _unit(self, specimen: Specimen, made: Made, controllers: Controllers, row: int) -> Unit:
        plant, begun = made.plant, controllers.begun(specimen.firmware or self.lamp)
        state, tally = plant.beginning()
        return Unit(
            number=np.array([specimen.number]),
            place=np.array([specimen.shift_k, specimen.airflow]),
            machine=plant.machine._replace(every_ripple=row != UNTRACED),
            modes=stacked(plant.modes),
            sensing=made.sensing,
            controller=self._controller(specimen.number, made, *begun),
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
                throttled_s=np.zeros(1),
                reversals=np.zeros(1, np.int64),
                first_above_s=np.full(1, np.nan),
                ran_away_s=np.full(1, np.nan),
                step_up=np.zeros(1),
                step_down=np.zeros(1),
                least=np.ones(1),
                keeps=np.array([row]),
            ),
        )

    def _controller(self, number: int, made: Made, settings: int, memory: Memory) -> Controller:
        """The controller after a reset; the codes are those at power-up without faults."""
        plant, sensing = made.plant, made.sensing
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
            np.array([settings], np.uint64),
            memory,
            np.array(codes, np.uint16),
            np.zeros(channels, np.uint16),
            np.zeros(channels, np.uint16),
            np.zeros(channels),
        )

    def _kept(self, rows: int, instants: int) -> Kept:
        lamp, plant, channels = self.lamp, self.plant, len(self.lamp.channels)

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
