"""Thousands of lamps through one profile: the batch clock.

All units have the lamp's topology, timing and firmware, and numbers of their own. They are made
ready and run chunk by chunk, so that memory does not grow with their number; every random number
is a function of (seed, unit, tick), so that results depend on neither order nor threads.
"""

import copy
import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lanes import LANES
from derate.loop.abreast import goes_abreast, run_blocks
from derate.loop.controllers import interpreted_because
from derate.loop.course import Course
from derate.loop.fixed_tick import Found, run_units
from derate.loop.ready import Chunk, Ready, Specimen
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
    nan if it did not; ``step_up``, ``step_down``: largest change of the limit from one control
    tick to the next while no input changes [share of full light]; ``least_limit``: the lowest;
    ``node_c`` (U, N): at the end; ``recordings``: of the units asked for, by their place.
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
    step_up: Array
    step_down: Array
    least_limit: Array
    node_c: Array
    recordings: dict[int, Recording]


class Batch:
    """A nominal lamp in one profile, made ready once for as many units as are wanted.

    Raises SurroundingsError without a C compiler, unless the controller is in Python. Where tasks
    jitter every unit has instants of its own, and units go one by one.
    """

    def __init__(
        self, lamp: Lamp, profile: Profile, *, seed: int = 0, threads: int | None = None
    ) -> None:
        self.ready = Ready(lamp, profile, seed)
        alone = 1 if interpreted_because(lamp) else None  # the interpreter serves one at a time
        self.threads = threads or alone or os.cpu_count() or 1
        self.side_by_side = goes_abreast(self.ready.plant) and not self.ready.jitters

    def through(self, profile: Profile) -> "Batch":
        """The same lamp in another profile, made ready in a moment."""
        other = copy.copy(self)
        other.ready = self.ready.through(profile)
        return other

    def run(self, specimens: Sequence[Specimen], *, trace: Iterable[int] = ()) -> BatchResult:
        """Run units through the profile; ``trace``: indices of those whose rows are kept.

        Raises InputError where units differ from the nominal lamp in more than numbers, or their
        firmware in more than settings.
        """
        traced = set(trace)
        parts = [[i] for i in sorted(traced)]
        for course in self._by_course(specimens, traced):
            size = self._size(len(course))
            parts += [course[i : i + size] for i in range(0, len(course), size)]

        def run(part: list[int]) -> _Part:
            return self._run(part, [specimens[i] for i in part], traced=part[0] in traced)

        with ThreadPoolExecutor(self.threads) as pool:
            return _joined(specimens, self.ready.plant, list(pool.map(run, parts)))

    def _by_course(self, specimens: Sequence[Specimen], but: set[int]) -> Iterable[list[int]]:
        """Indices of the specimens that go through the same course."""
        groups: dict[int, list[int]] = {}
        for i, specimen in enumerate(specimens):
            if i not in but:
                groups.setdefault(self.ready.whose(specimen.number), []).append(i)
        return groups.values()

    def _size(self, units: int) -> int:
        """Units in a chunk: whole blocks, and work for every thread."""
        each = -(-units // self.threads)
        return min(CHUNK, -(-max(1, each) // LANES) * LANES)

    def _run(self, rows: list[int], specimens: list[Specimen], *, traced: bool) -> "_Part":
        course = self.ready.course(specimens[0].number)
        chunk = self.ready.chunk(specimens, traced=traced)
        fixed = self.ready.fixed(course, chunk.controllers)
        if self.side_by_side and not traced:
            blocks, row = chunk.abreast()
            run_blocks(blocks, row, fixed)
            chunk.controllers.check()
            return _Part(
                rows,
                Tally(*(_each(total, len(rows)) for total in blocks.tally)),
                _first(row.found, len(rows)),
                _each(blocks.state.node_c, len(rows))[:, BEGIN].copy(),
                chunk.stack.machine.limits_c,
                {},
            )
        run_units(chunk.stack, fixed, chunk.kept, 0, len(rows))
        chunk.controllers.check()
        recordings = {}
        if traced:
            recordings[rows[0]] = recording_of(course, self.ready, chunk)
        stack = chunk.stack
        node_c, limits_c = stack.state.node_c[:, BEGIN].copy(), stack.machine.limits_c
        return _Part(rows, stack.tally, stack.found, node_c, limits_c, recordings)


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
    """Run the units of these numbers once; ``unit_lamp``: unit -> its lamp, else the nominal one.

    Raises as ``Batch`` does; ``trace_units``: numbers of those whose rows are kept.
    """
    specimens = [Specimen(n, unit_lamp(n) if unit_lamp else lamp) for n in units]
    trace = [list(units).index(number) for number in trace_units]
    return Batch(lamp, profile, seed=seed, threads=threads).run(specimens, trace=trace)


def _each(array: NDArray[Any], units: int) -> NDArray[Any]:
    """An array of blocks (B, .., LANES) unit by unit."""
    first = np.moveaxis(array, -1, 1)
    return first.reshape(-1, *first.shape[2:])[:units]


def _first(found: Found, units: int) -> Found:
    some: Any = [figure[:units] for figure in found]
    return Found(*some)


class _Part(NamedTuple):
    """What is left of a chunk that has run: units ``rows`` of all."""

    rows: list[int]
    tally: Tally
    found: Found
    node_c: Array
    limits_c: Array
    recordings: dict[int, Recording]


def _joined(specimens: Sequence[Specimen], plant: Plant, parts: list[_Part]) -> BatchResult:
    order = np.argsort(np.concatenate([part.rows for part in parts]))

    def all_of(what: Callable[[_Part], NDArray[Any]]) -> NDArray[Any]:
        return np.concatenate([what(part) for part in parts])[order]

    peak_c = np.minimum(all_of(lambda p: p.tally.peak_c), RUNAWAY_C)
    return BatchResult(
        units=tuple(specimen.number for specimen in specimens),
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
        step_up=all_of(lambda p: p.found.step_up)[:, 0],
        step_down=all_of(lambda p: p.found.step_down)[:, 0],
        least_limit=all_of(lambda p: p.found.least)[:, 0],
        node_c=all_of(lambda p: p.node_c),
        recordings={u: recording for part in parts for u, recording in part.recordings.items()},
    )


def recording_of(course: Course, ready: Ready, chunk: Chunk) -> Recording:
    """The rows of the one unit of a chunk as the timeline records them, without its intervals."""
    stack, kept, schedule = chunk.stack, chunk.kept, course.schedule
    specimen, ran_away_s = chunk.specimens[0], float(stack.found.ran_away_s[0, 0])
    ran_away, time_s = not np.isnan(ran_away_s), course.time_s.copy()
    if ran_away:
        time_s[-1] = ran_away_s
    shown = np.append(schedule.control & ~(time_s[:-1] >= ran_away_s), True)
    plant = copy.copy(ready.made(specimen).plant)  # a board takes long to make again
    plant.tally = Tally(*(np.array(total[0]) for total in stack.tally))
    rows = {
        "time_s": time_s[:, None],
        "ambient_c": course.ambient_c + specimen.shift_k,
        "airflow": course.airflow * specimen.airflow,
        "request": course.request,
    }
    rows |= {name: values[0] for name, values in kept._asdict().items()}
    dt_s = np.diff(time_s, append=time_s[-1])
    intervals = {"dt_s": dt_s[:-1, None], "duties": kept.duties[0, :-1]}
    return Recording(
        Rows.of({name: values[shown] for name, values in rows.items()}),
        Rows.of(intervals),
        plant,
        chains_of(specimen.lamp),
        ran_away,
    )
