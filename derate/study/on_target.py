"""What ``derate firmware`` tells: a lamp's controller built for each core, measured, compared.

The host's answers are what the cores are held against. All of them get the same codes and requests:
every profile of the lamp as the host's closed loop met it, a random walk, and every code in states
that were reached.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

import derate
from derate.errors import FirmwareError, SurroundingsError
from derate.firmware.compare import (
    Difference,
    HostSide,
    Side,
    all_codes,
    differing,
    first_difference,
    run_all_codes,
    run_through,
    state_before,
    told,
)
from derate.firmware.emulated import image_of, processor_for
from derate.firmware.host import HostBody
from derate.firmware.processor import Count, Processor
from derate.firmware.sanitized import complaint
from derate.firmware.sources import Sources, sources_of
from derate.firmware.target import TARGETS, Target, missing
from derate.lamp.lamp import Lamp
from derate.loop.timeline import Stop, going_on
from derate.sensing.chain import Chain, chains_of
from derate.study.dead_zone import dead_zone
from derate.study.recorded import Recorded, most_codes, record, short_walk
from derate.study.target_figures import OnTarget, Spread, TargetStudy

TRIAL_ROWS = 2000
"""Steps on a core before the same C may run in this process, where nothing guards memory."""


def study_targets(
    lamp: Lamp,
    targets: Sequence[Target] = tuple(TARGETS.values()),
    *,
    clock_hz: float = 8e6,
    rows: int | None = None,
    doing: Callable[[str], None] = lambda what: None,
    stop: Stop = going_on,
) -> TargetStudy:
    """Build, measure and compare a lamp's controller on each of ``targets``.

    ``rows``: steps of the random walk and at most of each profile; default: all. Raises InputError
    where the lamp cannot be built, SurroundingsError without a compiler for the host or where none
    of the targets can be emulated.
    """
    chains = chains_of(lamp)
    sources = sources_of(lamp, chains)
    cores: dict[str, Processor] = {}
    found: dict[str, OnTarget] = {}
    for target in targets:
        doing(f"building for {target.name}")
        found[target.name] = _begun(lamp, chains, sources, target, cores)
    lacking = [one.lacking for one in found.values() if one.lacking is not None]
    if len(lacking) == len(found):
        raise SurroundingsError(*lacking)
    said, unlooked = _looked_at(lamp, chains, sources) if sources.own else (None, None)
    recorded: list[Recorded] = []
    zone = None
    if said is None and not any(one.fault for one in found.values()):
        recorded = record(lamp, chains, rows=rows, doing=doing, stop=stop)
        host = HostSide(HostBody(lamp, chains))
        for name, core in cores.items():
            doing(f"running on {name}")
            found[name] = _measured(found[name], core, host, recorded, most_codes(chains))
        if sources.own:
            doing("letting codes stand still")
            zone = dead_zone(host, chains)
    return TargetStudy(
        lamp=lamp,
        own=sources.own,
        cores=tuple(found.values()),
        compared={one.inputs.name: one.steps for one in recorded},
        clock_hz=clock_hz,
        source={
            "version": derate.__version__,
            "lamp": lamp.source.name if lamp.source else None,
            "lamp_sha256": lamp.sha256,
        },
        complaint=said,
        unlooked=unlooked,
        dead_zone=zone,
    )


def _looked_at(
    lamp: Lamp, chains: Sequence[Chain], sources: Sources
) -> tuple[str | None, str | None]:
    """What sanitizers say of the user's C, and why they were not asked."""
    try:
        return complaint(sources, short_walk(lamp, chains, TRIAL_ROWS)), None
    except SurroundingsError as error:
        return None, str(error)


def _begun(
    lamp: Lamp,
    chains: Sequence[Chain],
    sources: Sources,
    target: Target,
    cores: dict[str, Processor],
) -> OnTarget:
    """A controller built for a core and tried on it; put among ``cores`` when that went well."""
    if (lacking := missing(target)) is not None:
        return OnTarget(target, lacking=lacking)
    try:
        image = image_of(sources, target)
    except SurroundingsError as error:
        if not sources.own:
            raise
        return OnTarget(target, fault=f"for {target.name}, {error}")
    made = OnTarget(
        target, image.code_bytes, image.constant_bytes, image.static_bytes, warnings=image.warnings
    )
    try:
        core = processor_for(image, target, len(lamp.sensors), len(lamp.channels))
    except FirmwareError as error:
        return replace(made, fault=str(error))
    made = replace(made, state_bytes=core.state_size)
    core.count(TRIAL_ROWS)  # counting also sees accesses that the core could not do
    trial = run_through(core, short_walk(lamp, chains, TRIAL_ROWS))
    core.count_no_more()
    if trial.fault is not None:
        return replace(made, fault=trial.fault)
    cores[target.name] = core
    return made


def _measured(
    made: OnTarget, core: Processor, host: HostSide, recorded: Sequence[Recorded], codes: int
) -> OnTarget:
    """A core through all that was recorded, counted, and held against the host."""
    core.paint_stack()
    typical, least, most = [], [], []
    difference = None
    for one in recorded:
        count = core.count(one.steps + len(one.inputs.codes))
        found = run_through(core, one.inputs)
        if found.fault is not None:
            return replace(made, fault=found.fault)
        typical.append(_rows(count, 0, len(one.inputs.codes)))
        if difference is None:
            difference = first_difference(one.answers, found, one.inputs, (host, core))
        difference = _every_code(one, core, host, codes, difference)
        both = _rows(count, 0, _counted(count))
        least.append(both.min(axis=1))
        most.append(both.max(axis=1))
    core.count_no_more()
    middle = np.median(np.concatenate(typical[:-1] or typical, axis=1), axis=1)
    figures = np.array([np.min(least, axis=0), middle, np.max(most, axis=0)]).round().astype(int)
    instructions, cycles = (Spread(*column) for column in figures.T.tolist())
    return replace(
        made,
        stack_bytes=core.stack_used,
        instructions=instructions,
        cycles=cycles,
        difference=difference,
    )


def _rows(count: Count, start: int, stop: int) -> np.ndarray:
    """Instructions and cycles of counted steps, a row each."""
    return np.array([count.instructions[start:stop], count.cycles[start:stop]])


def _counted(count: Count) -> int:
    return int(np.count_nonzero(count.instructions))


def _every_code(
    one: Recorded, core: Side, host: HostSide, codes: int, known: Difference | None
) -> Difference | None:
    """The first difference over every code in the states reached, unless one is known already."""
    found = run_all_codes(core, one.inputs, one.ticks, codes)
    if known is not None:
        return known
    for tick, expected, answers in zip(one.ticks, one.to_every_code, found, strict=False):
        apart = differing(expected, answers)
        if apart.any():
            every = all_codes(one.inputs, tick, codes)
            here, there = (state_before(side, one.inputs, tick + 1) for side in (host, core))
            return told(every, int(np.argmax(apart)), expected, answers, here, there)
    return None
