"""The batch clock's kernel for most lamps: eight units side by side through the whole profile.

What ``derate.loop.fixed_tick`` does for one unit, in the same order. Where a unit needs more than
one plain step from a tick to the next, it takes that part alone, on the same memory. For lamps
that ``derate.plant.abreast`` is for, and units of which no rows are kept.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.compiled import inlined, kernel
from derate.control.command import ONE_Q15
from derate.firmware.calling import step_at
from derate.lanes import LANES, bits, lane_of, put, side
from derate.loop.cycle import SMALLEST_SWING, follow
from derate.loop.fixed_tick import (
    AIRFLOW,
    LIMIT_SHIFT,
    SHIFT_K,
    STATUS_MASK,
    Controller,
    Fixed,
    Found,
    Sensing,
    alone,
    held_back,
    hottest_c,
)
from derate.loop.schedule import STUCK
from derate.loop.timeline import LOOK_EVERY, RUNAWAY_C
from derate.plant.abreast import ALL, book_steps, try_steps
from derate.plant.advance import advance
from derate.plant.crests_abreast import TERMS, moments_of
from derate.plant.emission import END, FIRST, HEAT, shine
from derate.plant.factors import MOST_GRADES, factors, grades
from derate.plant.modes import Modes
from derate.plant.plant import Plant
from derate.plant.stack import apart, taken
from derate.plant.state import BEGIN, Interval, Machine, State, project
from derate.plant.swell import fill
from derate.plant.tally import Tally
from derate.plant.watch_abreast import NOT_ALIKE
from derate.sensing.abreast import CELLS, COLDEST_C, SAMPLES, Smooth, code_sums, term_sum
from derate.sensing.abreast import TERMS as HEAT_TERMS
from derate.sensing.chain import USES_PER_SENSOR, led_current_a
from derate.sensing.circuit import HEALTHY, own_heat_w, sense, unpacked

Array = NDArray[np.float64]
Whole = NDArray[np.int64]


class Side(NamedTuple):
    """What moves side by side: each array with the unit as its last axis, or apart as its first.

    ``place`` (2): as a ``Unit`` has it; ``rising`` (2, N): room for peaks; ``smooth``: the sensors;
    ``moments`` (TERMS, G, G), the first ``terms`` (1) of which count: of the ripple.
    """

    number: Whole
    machine: Machine
    modes: Modes
    smooth: Smooth
    state: State
    tally: Tally
    interval: Interval
    rising: Array
    moments: Array
    terms: Whole
    place: Array


class Spell(NamedTuple):
    """How each unit (U) has been held back and has turned so far."""

    since_s: Array
    throttled: NDArray[np.bool_]
    extreme: Array
    direction: Whole
    last: Array


class Row(NamedTuple):
    """What stays one row a unit: U units."""

    sensing: Sensing
    controller: Controller
    found: Found
    spell: Spell


def goes_abreast(plant: Plant) -> bool:
    """Whether units of this kind can run side by side."""
    emission = plant.machine.emission
    alike = bool((emission.channel_of[:, END] - emission.channel_of[:, FIRST] == 1).all())
    return emission.pwm and alike and len(plant.machine.exchange.node) == 0


def side_by_side(stack: Any) -> Any:
    """A stack of named tuples (U, ..) as one of blocks (U / LANES, .., LANES)."""
    if isinstance(stack, tuple):
        kind: Any = type(stack)
        return kind(*(side_by_side(each) for each in stack))
    blocks = stack.reshape(len(stack) // LANES, LANES, *stack.shape[1:])
    return np.ascontiguousarray(np.moveaxis(blocks, 1, -1))


@alone
def run_blocks(blocks: Side, rows: Row, fixed: Fixed) -> None:
    """Run all blocks through the schedule."""
    for b in range(blocks.number.shape[0]):
        _run(taken(blocks, b), rows, fixed, b * LANES)


@kernel
def _run(block: Side, rows: Row, fixed: Fixed, first: int) -> None:
    schedule, state, tally, interval = fixed.schedule, block.state, block.tally, block.interval
    acting, found = schedule.acting, rows.found
    row, configuration, conversion, tick, gone, known_s = -1, -1, 0, 0, 0, 0.0
    number, pieces, terms = 0, 0, 0
    modes: Modes = taken(block.modes, 0)
    for lane in range(LANES):
        _light(apart(block, lane))
    for k in range(schedule.dt_s.shape[0]):
        if schedule.row[k] != row:
            row = schedule.row[k]
            _act(block, rows, fixed, row, first)
            if acting.configuration[row] != configuration:
                begun, configuration = configuration >= 0, acting.configuration[row]
                modes = taken(block.modes, configuration)
                for lane in range(LANES):
                    _configure(apart(block, lane), configuration, begun)
                terms, known_s = _terms(block), 0.0
        for lane in range(LANES if schedule.effect[k] else 0):
            _drive(block, rows, fixed, row, first + lane, lane)
        if schedule.convert[k] or k == 0:
            conversion += schedule.convert[k]
            _sense(block, rows, fixed, row, conversion, schedule.phase[k], first)
        if schedule.control[k]:
            tick += 1
            for lane in range(LANES):
                if gone >> lane & 1:
                    continue
                if tick % LOOK_EVERY == 0 and _runs_away(block, found, first, lane):
                    gone |= 1 << lane
                    continue
                _control(block, rows, fixed, row, first + lane, lane, schedule.still[k])
        h = schedule.dt_s[k]
        if h != known_s:
            number, pieces = _factors(block, configuration, h)
            known_s = h
        odd = try_steps(
            block.machine,
            modes,
            state,
            interval,
            state.steps[number],
            tally,
            block.rising,
            block.moments,
            terms,
            pieces,
            fixed.tolerance_k,
        )
        book_steps(state, tally, block.rising, h, odd | gone)
        odd &= ~gone
        for lane in range(LANES):
            if odd >> lane & 1:
                _step_alone(apart(block, lane), configuration, fixed, h)
                _notice(apart(block, lane).tally, found, first + lane)
        if gone == ALL:
            break
    for lane in range(LANES):
        u = first + lane
        if rows.spell.throttled[u]:
            found.throttled_s[u, 0] += tally.clock_s[0, lane] - rows.spell.since_s[u]


@inlined
def _runs_away(block: Side, found: Found, first: int, lane: int) -> bool:
    """Whether a unit runs away, and when."""
    if hottest_c(apart(block, lane).state) < RUNAWAY_C:
        return False
    found.ran_away_s[first + lane, 0] = block.tally.clock_s[0, lane]
    return True


@inlined
def _terms(block: Side) -> int:
    """Terms that are enough for all units; 0 where there are not enough for one of them."""
    most, least = 0, TERMS
    for lane in range(LANES):
        most, least = max(most, block.terms[0, lane]), min(least, block.terms[0, lane])
    return most if least > 0 else 0


@kernel
def _light(one: Side) -> None:
    """Find the currents of a unit, which do not change."""
    at_c = one.state.node_c[BEGIN, one.machine.junction :]
    shine(one.machine.emission, one.state.lit, at_c, one.interval.duties, one.interval.requests)


@kernel
def _configure(one: Side, configuration: int, begun: bool) -> None:
    """Take a unit over into other modes."""
    modes: Modes = taken(one.modes, configuration)
    if begun:
        project(modes, one.state)
    if one.machine.period_s > 0.0:
        fill(one.machine, modes, one.state.swell_k_per_w)
        one.terms[0] = moments_of(one.machine, modes, one.moments)


@kernel
def _factors(block: Side, configuration: int, h: float) -> tuple[int, int]:
    """The slot of a step's factors, the same for all units, and how many graded rows it has."""
    number, most, least = 0, 0, MOST_GRADES
    for lane in range(LANES):
        one: Side = apart(block, lane)
        modes: Modes = taken(one.modes, configuration)
        number = factors(modes, one.state.steps, h)
        pieces = grades(modes, one.state.steps[number])
        most, least = max(most, pieces), min(least, pieces)
    return number, most if most == least else NOT_ALIKE


@kernel
def _step_alone(one: Side, configuration: int, fixed: Fixed, h: float) -> None:
    """Advance one unit, from where the others began; shorter steps may have taken the memo."""
    one.state.lit.glow[HEAT, 0] = np.nan
    modes: Modes = taken(one.modes, configuration)
    advance(one.machine, modes, one.state, one.tally, one.interval, h, np.inf, fixed.tolerance_k)
    grades(modes, one.state.steps[factors(modes, one.state.steps, h)])


@inlined
def _notice(tally: Tally, found: Found, u: int) -> None:
    """Keep when a limit was first passed."""
    if found.first_above_s[u, 0] >= 0.0:
        return
    above_s = 0.0
    for j in range(tally.above_s.shape[0]):
        above_s = max(above_s, tally.above_s[j])
    if above_s > 0.0:
        found.first_above_s[u, 0] = tally.clock_s[0] - above_s


@inlined
def _act(block: Side, rows: Row, fixed: Fixed, row: int, first: int) -> None:
    """Let a row of the schedule act on the plants, and on what is driven."""
    acting, interval = fixed.schedule.acting, block.interval
    put(interval.airflow, side(block.place, AIRFLOW) * acting.airflow[row, 0], 0)
    for m in range(interval.ambient_c.shape[0]):
        put(interval.ambient_c, side(block.place, SHIFT_K) + acting.ambient_c[row, m], m)
    for c in range(interval.duties.shape[0]):
        for lane in range(LANES):
            rows.controller.requests_q15[first + lane, c] = acting.requests_q15[row, c]


@inlined
def _drive(block: Side, rows: Row, fixed: Fixed, row: int, u: int, lane: int) -> None:
    """Drive what is commanded; a channel stuck on is driven at full."""
    acting, interval = fixed.schedule.acting, block.interval
    for c in range(interval.duties.shape[0]):
        commanded = rows.controller.commanded[u, c]
        interval.duties[c, lane] = 1.0 if acting.stuck_on[row, c] else commanded
        asked = acting.asked_q15[row, c]
        interval.requests[c, lane] = (asked * fixed.levels // ONE_Q15) / fixed.levels


@inlined
def _sense(
    block: Side,
    rows: Row,
    fixed: Fixed,
    row: int,
    tick: int,
    phase: float,
    first: int,
) -> None:
    """Convert every sensor."""
    acting, smooth, interval = fixed.schedule.acting, block.smooth, block.interval
    for s in range(smooth.adc.shape[0]):
        wires = acting.wires[row, s]
        at_c = side(block.state.node_c, BEGIN, fixed.sensor + s)
        plain = not rows.sensing.coupled[first, s]
        for lane in range(LANES):
            plain = plain and smooth.fits[s, lane]
        inside = (at_c >= COLDEST_C) & (at_c < COLDEST_C + (CELLS - 1.0))
        plain = plain and bits(inside) == ALL
        seen_c = at_c + acting.offset_k[row, s]
        inside = (seen_c >= COLDEST_C) & (seen_c < COLDEST_C + (CELLS - 1.0))
        plain = plain and bits(inside) == ALL
        if not plain:
            for lane in range(LANES):
                _sense_alone(apart(block, lane), rows, fixed, row, tick, phase, s, first + lane)
            continue
        put(interval.sensor_heat_w, term_sum(smooth.terms, s, at_c, HEAT_TERMS), s)
        if wires == STUCK:
            continue
        if wires != HEALTHY:
            for lane in range(LANES):
                _sense_alone(apart(block, lane), rows, fixed, row, tick, phase, s, first + lane)
            continue
        samples = int(smooth.adc[s, SAMPLES, 0])
        use = USES_PER_SENSOR * (1 + s)
        ratio = term_sum(smooth.terms, s, seen_c, 0)
        total = code_sums(smooth, s, ratio, samples, fixed.seed, side(block.number, 0), tick, use)
        for lane in range(LANES):
            rows.controller.codes[first + lane, s] = (
                lane_of(total, lane) + samples // 2
            ) // samples


@kernel
def _sense_alone(
    one: Side, rows: Any, fixed: Fixed, row: int, tick: int, phase: float, s: int, u: int
) -> None:
    """Convert one sensor of one unit."""
    acting, sensing, interval = fixed.schedule.acting, rows.sensing, one.interval
    circuit = unpacked(sensing.numbers[u, s], sensing.table[u, s, :, : sensing.rows[u, s]])
    thermistor_c = one.state.node_c[BEGIN, fixed.sensor + s]
    interval.sensor_heat_w[s] = own_heat_w(circuit, thermistor_c)
    wires = acting.wires[row, s]
    if wires == STUCK:
        return
    current_a = 0.0
    if sensing.coupled[u, s]:
        instant = phase if np.isnan(sensing.phase[u, s]) else sensing.phase[u, s]
        current_a = led_current_a(
            sensing.drive[u], sensing.on_current_a[u], interval.duties, instant
        )
    at_c = thermistor_c + acting.offset_k[row, s]
    rows.controller.codes[u, s] = sense(
        circuit, at_c, current_a, wires, fixed.seed, one.number[0], tick
    )


@inlined
def _control(
    block: Side, rows: Row, fixed: Fixed, row: int, u: int, lane: int, still: bool
) -> None:
    """Run the controller of one unit; what it commands is kept at the driver's resolution."""
    levels, controller, spell = fixed.levels, rows.controller, rows.spell
    acting, found, clock_s = fixed.schedule.acting, rows.found, block.tally.clock_s[0, lane]
    answer = step_at(
        fixed.step,
        controller.settings[u, 0],
        controller.memory[u].ctypes.data,
        controller.codes[u].ctypes.data,
        controller.requests_q15[u].ctypes.data,
        controller.duties_q15[u].ctypes.data,
    )
    for c in range(controller.commanded.shape[1]):
        duty = (np.int64(controller.duties_q15[u, c]) * levels // ONE_Q15) / levels
        controller.commanded[u, c] = duty
    if fixed.at_once:
        _drive(block, rows, fixed, row, u, lane)
    if spell.throttled[u]:
        found.throttled_s[u, 0] += clock_s - spell.since_s[u]
    limit = (answer >> LIMIT_SHIFT) / ONE_Q15
    spell.throttled[u] = held_back(limit, acting.request[row], answer & STATUS_MASK)
    spell.since_s[u] = clock_s
    held = min(limit, acting.request[row])
    found.least[u, 0] = min(found.least[u, 0], limit)
    if not still:
        spell.extreme[u], spell.direction[u] = held, 0
    elif not np.isnan(spell.last[u]):
        found.step_up[u, 0] = max(found.step_up[u, 0], held - spell.last[u])
        found.step_down[u, 0] = max(found.step_down[u, 0], spell.last[u] - held)
    spell.last[u] = held
    before = spell.direction[u]
    extreme, direction, turned = follow(held, spell.extreme[u], before, SMALLEST_SWING)
    spell.extreme[u], spell.direction[u] = extreme, direction
    found.reversals[u, 0] += turned and before != 0
