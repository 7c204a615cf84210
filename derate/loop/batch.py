"""Thousands of lamps through one profile: the batch clock.

All units have the lamp's topology, timing and firmware, and numbers of their own. They are made
ready and run chunk by chunk, so that memory does not grow with their number; every random number
is a function of (seed, unit, tick), so that results depend on neither order nor threads.
"""

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import InputError
from derate.firmware.host import HostBody
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.abreast import goes_abreast, run_blocks
from derate.loop.fixed_tick import Found, run_units
from derate.loop.ready import Chunk, Ready
from derate.loop.schedule import Course, course_of
from derate.loop.timeline import RUNAWAY_C, Recording
from derate.loop.trace import Rows
from derate.plant.plant import Plant
from derate.plant.state import BEGIN
from derate.plant.tally import Tally
from derate.sensing.chain import chains_of

Array = NDArray[np.float64]
UnitLamp = Callable[[int], Lamp]

CHUNK = 64
"""Units made ready at once by a thread: some 20 MB."""


@dataclass(frozen=True)
class BatchResult:
    """Figures of the units U, one row each, of a lamp with N nodes and C channels.

    ``peak_c``, ``peak_at_s``, ``above_s`` (U, N): highest temperature with the crest of a
    junction's ripple, when, and the time above the node's limit; ``margin_k``: least distance to a
    limit; ``light_lm_s``, ``asked_lm_s`` (U, C) and ``electrical_j`` as in the plant's tally;
    ``throttled_s``: light held back; ``reversals``: turns of the limit by 2 % of full light and
    more while no input changes, of which hunting has many; ``first_above_s``: when a limit was
    first passed, to within a control period, nan if never; ``ran_away_s``: when a unit ran away,
    nan if it did not; ``node_c`` (U, N): at the end; ``recordings``: of the units asked for.
    """

    units: tuple[int, ...]
    node_names: tuple[str, ...]
    peak_c: Array
    peak_at_s: Array
    above_s: Array
    margin_k: Array
    light_lm_s: Array
    asked_lm_s: Array
    electrical_j: Array
    throttled_s: Array
    reversals: NDArray[np.int64]
    first_above_s: Array
    ran_away_s: Array
    node_c: Array
    recordings: dict[int, Recording]


def run_batch(
    lamp: Lamp,
    profile: Profile,
    units: Sequence[int],
    *,
    seed: int = 0,
    unit_lamp: UnitLamp | None = None,
    trace_units: Iterable[int] = (),
    threads: int | None = None,
) -> BatchResult:
    """Run ``units`` through ``profile``, each with random numbers of its own.

    ``lamp`` is the nominal one, for which the firmware was made; ``unit_lamp``: unit -> its lamp,
    different in numbers only (the nominal one by default); ``trace_units``: those whose rows are
    kept.

    Raises InputError where the lamp's tasks do not share one tick, units differ in more than
    numbers or the controller is not the C; SurroundingsError without a C compiler.
    """
    if lamp.controller.body != "c":
        title = lamp.source or lamp.name
        raise InputError(f'{title}: controller.body: found "{lamp.controller.body}", due "c"')
    course = course_of(lamp, profile)
    body = HostBody(lamp, chains_of(lamp))
    ready = Ready(lamp, profile, course, body, seed, frozenset(trace_units))
    chunks = [units[i : i + CHUNK] for i in range(0, len(units), CHUNK)]
    side_by_side = goes_abreast(ready.plant)

    def run(numbers: Sequence[int]) -> _Part:
        lamps = [unit_lamp(number) if unit_lamp else lamp for number in numbers]
        chunk = ready.chunk(numbers, lamps)
        if side_by_side and not set(numbers) & ready.traced:
            return _abreast(chunk, ready)
        run_units(chunk.stack, ready.fixed, chunk.kept, 0, len(numbers))
        recordings = {}
        for number in set(numbers) & ready.traced:
            recordings[number] = recording_of(course, ready, chunk, numbers.index(number))
        return _Part(chunk.stack.tally, chunk.stack.found, *_last(chunk), recordings)

    with ThreadPoolExecutor(threads or os.cpu_count()) as pool:
        parts = list(pool.map(run, chunks))
    return _joined(tuple(units), ready.plant, parts)


def _abreast(chunk: Chunk, ready: Ready) -> "_Part":
    """Run a chunk side by side."""
    blocks, rows = chunk.abreast()
    run_blocks(blocks, rows, ready.fixed)
    count = len(chunk.numbers)

    def each(array: Array) -> Array:
        apart = np.moveaxis(array, -1, 1)
        return apart.reshape(-1, *apart.shape[2:])[:count]

    tally = Tally(*(each(total) for total in blocks.tally))
    found = Found(*(figure[:count] for figure in rows.found))
    return _Part(tally, found, each(blocks.state.node_c)[:, BEGIN], chunk.stack.machine.limits_c, {})


class _Part(NamedTuple):
    """What is left of a chunk that has run."""

    tally: Tally
    found: Found
    node_c: Array
    limits_c: Array
    recordings: dict[int, Recording]


def _last(chunk: Chunk) -> tuple[Array, Array]:
    """Temperatures at the end and limits of every node [degC]."""
    return chunk.stack.state.node_c[:, BEGIN].copy(), chunk.stack.machine.limits_c


def _joined(units: tuple[int, ...], plant: Plant, parts: list[_Part]) -> BatchResult:
    def all_of(what: Callable[[_Part], NDArray[Any]]) -> NDArray[Any]:
        return np.concatenate([what(part) for part in parts])

    peak_c = np.minimum(all_of(lambda p: p.tally.peak_c), RUNAWAY_C)
    return BatchResult(
        units=units,
        node_names=plant.node_names,
        peak_c=peak_c,
        peak_at_s=all_of(lambda p: p.tally.peak_at_s),
        above_s=all_of(lambda p: p.tally.above_s),
        margin_k=np.nanmin(all_of(lambda p: p.limits_c) - peak_c, axis=1),
        light_lm_s=all_of(lambda p: p.tally.light_lm_s),
        asked_lm_s=all_of(lambda p: p.tally.asked_lm_s),
        electrical_j=all_of(lambda p: p.tally.electrical_j)[:, 0],
        throttled_s=all_of(lambda p: p.found.throttled_s)[:, 0],
        reversals=all_of(lambda p: p.found.reversals)[:, 0],
        first_above_s=all_of(lambda p: p.found.first_above_s)[:, 0],
        ran_away_s=all_of(lambda p: p.found.ran_away_s)[:, 0],
        node_c=all_of(lambda p: p.node_c),
        recordings={u: recording for part in parts for u, recording in part.recordings.items()},
    )


def recording_of(course: Course, ready: Ready, chunk: Chunk, u: int) -> Recording:
    """The rows of unit ``u`` of a chunk as the timeline records them, without its intervals."""
    stack, kept, schedule = chunk.stack, chunk.kept, course.schedule
    r, ran_away_s = int(stack.found.keeps[u, 0]), float(stack.found.ran_away_s[u, 0])
    ran_away, time_s = not np.isnan(ran_away_s), course.time_s.copy()
    if ran_away:
        time_s[-1] = ran_away_s
    shown = np.append(schedule.control & ~(time_s[:-1] >= ran_away_s), True)
    plant = Plant(chunk.lamps[u])
    plant.tally = Tally(*(np.array(total[u]) for total in stack.tally))
    rows = {
        "time_s": time_s[:, None],
        "ambient_c": course.ambient_c,
        "airflow": course.airflow,
        "request": course.request,
    }
    rows |= {name: values[r] for name, values in kept._asdict().items()}
    dt_s = np.diff(time_s, append=time_s[-1])
    intervals = {"dt_s": dt_s[:-1, None], "duties": kept.duties[r, :-1]}
    return Recording(
        Rows.of({name: values[shown] for name, values in rows.items()}),
        Rows.of(intervals),
        plant,
        chains_of(chunk.lamps[u]),
        ran_away,
    )
