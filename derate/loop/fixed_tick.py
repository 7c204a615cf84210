"""The batch clock's kernel: one unit after another through the whole schedule.

At an instant what is commanded takes effect, every sensor converts, the controller runs, each where
the schedule says so; then the plant advances to the next instant, by the very ``advance`` of the
timeline.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import compiled, kept_on_disk
from derate.control import command
from derate.control.command import ONE_Q15
from derate.firmware.calling import step_at
from derate.loop.cycle import SMALLEST_SWING, follow
from derate.loop.schedule import STUCK, Acting, Schedule
from derate.loop.timeline import LOOK_EVERY, RUNAWAY_C
from derate.plant.advance import advance
from derate.plant.kernel import inlined, kernel
from derate.plant.modes import Modes
from derate.plant.stack import taken
from derate.plant.state import BEGIN, Interval, Machine, State, project
from derate.plant.tally import Tally
from derate.sensing.chain import led_current_a
from derate.sensing.circuit import own_heat_w, sense, unpacked

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

SHIFT_K, AIRFLOW = range(2)
"""Columns of ``Unit.place``."""
STATUS_MASK, LIMIT_SHIFT = 0xFFFF, 16
"""Flags and limit in the answer of the C."""
alone = kept_on_disk(error_model="numpy", _nrt=False, nogil=True)
"""Decorator: a kernel beside which other threads run."""

held_back = compiled(command.held_back)


class Sensing(NamedTuple):
    """The sensors S of a unit, packed, and what disturbs them.

    ``numbers`` (S, 32) and ``table`` (S, 3, R), the first ``rows`` (S) of which count: as
    ``derate.sensing.circuit.packed``; ``coupled`` (S): whether the LED current moves the reading;
    ``phase`` (S): of the PWM at the sample, nan for the real one; ``drive`` and ``on_current_a``
    (C): as ``led_current_a`` takes them.
    """

    numbers: Array
    table: Array
    rows: Whole
    coupled: NDArray[np.bool_]
    phase: Array
    drive: int
    on_current_a: Array


class Controller(NamedTuple):
    """The C controller's memory, and what it is given and gives: as the C wants them.

    ``settings`` (1): their address.
    """

    settings: NDArray[np.uint64]
    memory: NDArray[np.uint64]
    codes: NDArray[np.uint16]
    requests_q15: NDArray[np.uint16]
    duties_q15: NDArray[np.uint16]
    commanded: Array


class Found(NamedTuple):
    """Figures of a unit (1 each), as in ``BatchResult``; ``rows`` (1): which of ``Kept``, or -1."""

    throttled_s: Array
    reversals: Whole
    first_above_s: Array
    ran_away_s: Array
    step_up: Array
    step_down: Array
    least: Array
    keeps: Whole


class Unit(NamedTuple):
    """All of one unit: constants, then what moves.

    ``place`` (2): shift of its ambients [K], factor on the airflow.
    """

    number: Whole
    place: Array
    machine: Machine
    modes: Modes
    sensing: Sensing
    controller: Controller
    state: State
    tally: Tally
    interval: Interval
    found: Found


class Kept(NamedTuple):
    """A row for each instant of the units that are traced (R, K + 1, ..), as the timeline's."""

    node_c: Array
    ripple_k: Array
    code: Whole
    limit_q15: Whole
    status: Whole
    light_lm_s: Array
    asked_lm_s: Array
    duties: Array


class Fixed(NamedTuple):
    """What all units have in common.

    ``at_once``: whether a command takes effect at once; ``step``: address of the C; ``levels``: of
    the driver's duty; ``sensor``: first sensor's node.
    """

    schedule: Schedule
    at_once: bool
    step: int
    levels: int
    sensor: int
    seed: int
    tolerance_k: float


@alone
def run_units(units: Unit, fixed: Fixed, kept: Kept, first: int, end: int) -> None:
    """Run the units ``first`` to ``end`` of a stack through the schedule."""
    for u in range(first, end):
        _run(taken(units, u), fixed, kept)


@kernel
def _run(unit: Unit, fixed: Fixed, kept: Kept) -> None:
    """Run one unit from the start of the profile to its end, or until it runs away."""
    schedule, state, tally, interval = fixed.schedule, unit.state, unit.tally, unit.interval
    acting, found, controller = schedule.acting, unit.found, unit.controller
    row, configuration = -1, acting.configuration[schedule.row[0]]
    conversion, tick, spell_s = 0, 0, 0.0
    modes: Modes = taken(unit.modes, configuration)
    last, extreme, direction, throttled, answer = (
        0.0,
        0.0,
        0,
        False,
        np.uint32(ONE_Q15 << LIMIT_SHIFT),
    )
    for k in range(schedule.dt_s.shape[0]):
        if schedule.row[k] != row:
            row = schedule.row[k]
            _act(acting, row, unit.place, interval)
            if acting.configuration[row] != configuration:
                configuration = acting.configuration[row]
                modes = taken(unit.modes, configuration)
                project(modes, state)
        if schedule.effect[k]:
            _drive(fixed, acting, row, controller, interval)
        if schedule.convert[k] or k == 0:  # codes are there from the start
            conversion += schedule.convert[k]
            _sense(unit, fixed, row, conversion, schedule.phase[k])
        if schedule.control[k]:
            tick += 1
            if tick % LOOK_EVERY == 0 and not hottest_c(state) < RUNAWAY_C:
                found.ran_away_s[0] = tally.clock_s[0]
                break
            answer = _control(controller, fixed, acting, row, interval)
            limit, status = (answer >> LIMIT_SHIFT) / ONE_Q15, answer & STATUS_MASK
            if throttled:
                found.throttled_s[0] += tally.clock_s[0] - spell_s
            throttled, spell_s = held_back(limit, acting.request[row], status), tally.clock_s[0]
            held = min(limit, acting.request[row])
            found.least[0] = min(found.least[0], limit)
            if not schedule.still[k]:
                extreme, direction = held, 0
            elif tick > 1:
                found.step_up[0] = max(found.step_up[0], held - last)
                found.step_down[0] = max(found.step_down[0], last - held)
            last = held
            before = direction
            extreme, direction, turned = follow(held, extreme, direction, SMALLEST_SWING)
            found.reversals[0] += turned and before != 0
        if found.keeps[0] >= 0:
            _keep(unit, kept, k, answer)
        advance(
            unit.machine, modes, state, tally, interval, schedule.dt_s[k], np.inf, fixed.tolerance_k
        )
        if not found.first_above_s[0] >= 0.0:
            above_s = 0.0
            for j in range(tally.above_s.shape[0]):
                above_s = max(above_s, tally.above_s[j])
            if above_s > 0.0:
                found.first_above_s[0] = tally.clock_s[0] - above_s
    found.throttled_s[0] += throttled * (tally.clock_s[0] - spell_s)
    if found.keeps[0] >= 0:
        _keep(unit, kept, schedule.dt_s.shape[0], answer)


@kernel
def hottest_c(state: State) -> float:
    """The highest temperature of a unit [degC]."""
    hottest_c = state.node_c[BEGIN, 0]
    for j in range(1, state.node_c.shape[1]):
        hottest_c = max(hottest_c, state.node_c[BEGIN, j])
    return hottest_c


@inlined
def _act(acting: Acting, row: int, place: Array, interval: Interval) -> None:
    """Let a row of the schedule act on the plant."""
    interval.airflow[0] = place[AIRFLOW] * acting.airflow[row, 0]
    for m in range(interval.ambient_c.shape[0]):
        interval.ambient_c[m] = place[SHIFT_K] + acting.ambient_c[row, m]


@inlined
def _drive(
    fixed: Fixed, acting: Acting, row: int, controller: Controller, interval: Interval
) -> None:
    """Drive what is commanded; a channel stuck on is driven at full."""
    for c in range(interval.duties.shape[0]):
        interval.duties[c] = 1.0 if acting.stuck_on[row, c] else controller.commanded[c]
        asked = acting.asked_q15[row, c]
        interval.requests[c] = (asked * fixed.levels // ONE_Q15) / fixed.levels


@inlined
def _sense(unit: Unit, fixed: Fixed, row: int, tick: int, phase: float) -> None:
    """Convert every sensor."""
    acting, sensing, interval = fixed.schedule.acting, unit.sensing, unit.interval
    for s in range(sensing.rows.shape[0]):
        circuit = unpacked(sensing.numbers[s], sensing.table[s, :, : sensing.rows[s]])
        thermistor_c = unit.state.node_c[BEGIN, fixed.sensor + s]
        interval.sensor_heat_w[s] = own_heat_w(circuit, thermistor_c)
        wires = acting.wires[row, s]
        if wires == STUCK:
            continue
        current_a = 0.0
        if sensing.coupled[s]:
            instant = phase if math.isnan(sensing.phase[s]) else sensing.phase[s]
            current_a = led_current_a(sensing.drive, sensing.on_current_a, interval.duties, instant)
        at_c = thermistor_c + acting.offset_k[row, s]
        unit.controller.codes[s] = sense(
            circuit, at_c, current_a, wires, fixed.seed, unit.number[0], tick
        )


@inlined
def _control(
    controller: Controller, fixed: Fixed, acting: Acting, row: int, interval: Interval
) -> int:
    """Run the controller; what it commands is kept at the driver's resolution."""
    levels = fixed.levels
    for c in range(controller.requests_q15.shape[0]):
        controller.requests_q15[c] = acting.requests_q15[row, c]
    answer: int = step_at(
        fixed.step,
        controller.settings[0],
        controller.memory.ctypes.data,
        controller.codes.ctypes.data,
        controller.requests_q15.ctypes.data,
        controller.duties_q15.ctypes.data,
    )
    for c in range(controller.commanded.shape[0]):
        duty = np.int64(controller.duties_q15[c])
        controller.commanded[c] = (duty * levels // ONE_Q15) / levels
    if fixed.at_once:
        _drive(fixed, acting, row, controller, interval)
    return answer


@inlined
def _keep(unit: Unit, kept: Kept, k: int, answer: int) -> None:
    """Add the row of this instant."""
    r, state, tally = unit.found.keeps[0], unit.state, unit.tally
    for j in range(kept.node_c.shape[2]):
        kept.node_c[r, k, j] = state.node_c[BEGIN, j]
    for g in range(kept.ripple_k.shape[2]):
        kept.ripple_k[r, k, g] = state.ripple_k[g]
    for s in range(kept.code.shape[2]):
        kept.code[r, k, s] = unit.controller.codes[s]
    kept.limit_q15[r, k, 0] = answer >> LIMIT_SHIFT
    kept.status[r, k, 0] = answer & STATUS_MASK
    for c in range(kept.duties.shape[2]):
        kept.light_lm_s[r, k, c] = tally.light_lm_s[c]
        kept.asked_lm_s[r, k, c] = tally.asked_lm_s[c]
        kept.duties[r, k, c] = unit.interval.duties[c]
