"""A controller on its cores, in words: figures by row, differences, the verdict."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from derate.control.command import ONE_Q15
from derate.report.words import duration, figures, percent

if TYPE_CHECKING:
    from derate.firmware.compare import Command, Difference
    from derate.study.dead_zone import DeadZone
    from derate.study.target_figures import OnTarget, Spread, TargetStudy

HERTZ_PER_MEGAHERTZ = 1e6
STATE_BYTES_A_LINE = 16
NARROW_INT_BITS = 16
FEW_LEVELS = 4
"""So many limits or fewer: comparisons, not a slope."""


def figure_rows(study: "TargetStudy") -> Iterator[tuple[str, ...]]:
    """Name and cells, a cell a core: flash, RAM, instructions, cycles, share of a period."""
    cores = study.tried
    yield "flash: code", *(str(core.code_bytes) for core in cores)
    yield "flash: constants", *(str(core.constant_bytes) for core in cores)
    yield "RAM: state", *(str(core.state_bytes or "-") for core in cores)
    yield "RAM: static", *(str(core.static_bytes) for core in cores)
    yield "RAM: stack, worst seen", *(_measured(core, core.stack_bytes) for core in cores)
    for name in ("instructions", "cycles"):
        for share in ("least", "typical", "most"):
            head = f"{name} a step: {share}"
            yield head, *(_share(getattr(core, name), share) for core in cores)
    clock = f"{figures(study.clock_hz / HERTZ_PER_MEGAHERTZ, 3)} MHz"
    yield f"longest step at {clock}", *(_time(study, core) for core in cores)
    yield (
        f"share of {duration(study.lamp.timing.control_period_s)}",
        *(_of_period(study, core) for core in cores),
    )


def _measured(core: "OnTarget", value: int) -> str:
    return "-" if core.instructions is None else str(value)


def _share(spread: "Spread | None", name: str) -> str:
    return "-" if spread is None else str(getattr(spread, name))


def _time(study: "TargetStudy", core: "OnTarget") -> str:
    return "-" if core.cycles is None else duration(core.cycles.most / study.clock_hz)


def _of_period(study: "TargetStudy", core: "OnTarget") -> str:
    share = study.share_of_tick(core)
    return "-" if share is None else percent(share) if share >= 1e-3 else "under 0.1 %"


def compared_words(study: "TargetStudy") -> str:
    """What all of them were given."""
    if not study.compared:
        return "nothing: a core stopped first"
    parts = [f"{name} ({steps} steps)" for name, steps in study.compared.items()]
    return f"{', '.join(parts)}; with them every code in states that were reached"


def verdict(study: "TargetStudy") -> str:
    """The verdict in one sentence."""
    names = [core.target.name for core in study.tried]
    steps = sum(study.compared.values())
    if study.agrees:
        return f"{_listed(['host', *names])} agree bit for bit over {steps} steps each"
    wrong = [core.target.name for core in study.tried if core.fault or core.difference]
    for fault in (*(core.fault for core in study.tried), study.complaint):
        if fault is not None:
            return f"not fit to run: {fault}"
    return f"the host and {_listed(wrong)} differ: what was tuned is not what would run"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def difference_words(study: "TargetStudy", core: "OnTarget") -> str:
    """Where a core first differs from the host, and how."""
    one = core.difference
    assert one is not None
    at_s = one.tick * study.lamp.timing.control_period_s
    timed = one.inputs.startswith("profile")
    when = f" ({duration(at_s)})" if timed else ""
    codes, requests = (", ".join(map(str, values)) for values in (one.codes, one.requests_q15))
    return (
        f"first at step {one.tick}{when} of {one.inputs}, code {codes}, request {requests}:"
        f" the host {_command(one.expected)}, {core.target.name} {_command(one.found)};"
        f" {one.steps_that_differ} steps differ there"
    )


def likely_cause(study: "TargetStudy") -> str | None:
    """Why some cores differ, where the width of int tells those that do from those that do not."""
    compared = [core for core in study.tried if core.instructions is not None]
    wrong = {core.target.int_bits for core in compared if core.difference is not None}
    right = {core.target.int_bits for core in compared if core.difference is None}
    if wrong != {NARROW_INT_BITS} or NARROW_INT_BITS in right:
        return None
    return (
        f"it differs where int has {NARROW_INT_BITS} bits: look for a product or a sum in int that"
        " passes 32767, a constant without UINT32_C, a shift by 16 and more"
    )


def _command(command: "Command") -> str:
    duties = ", ".join(map(str, command.duties_q15))
    limit = percent(command.limit_q15 / ONE_Q15)
    return f"gives limit {limit}, status {command.status:#06x}, duty {duties}"


def state_lines(one: "Difference", name: str) -> list[str]:
    """Both states before the step that differs, in bytes as they lie in memory."""
    lines = []
    for who, state in (("host", one.expected_state), (name, one.found_state)):
        for start in range(0, len(state), STATE_BYTES_A_LINE):
            row = state[start : start + STATE_BYTES_A_LINE].hex(" ", 4)
            lines.append(f"{who if start == 0 else '':>8} {start:4d}  {row}")
    return lines


def notes(study: "TargetStudy") -> Iterator[tuple[str, str]]:
    """Topic and sentence: what was compared, timings, differences, warnings, what is missing."""
    yield "compared", compared_words(study)
    for core in study.tried:
        yield core.target.name, f"{core.target.title}; cycles: {core.target.timing}"
    for core in study.cores:
        if core.lacking is not None:
            yield f"no {core.target.name}", core.lacking
        if core.fault is not None:
            yield "fault", core.fault
        for warning in core.warnings:
            yield "warning", f"{core.target.name}: {warning}"
        if core.difference is not None:
            yield "differs", difference_words(study, core)
    if (why := likely_cause(study)) is not None:
        yield "likely", why
    if study.complaint is not None:
        yield "fault", study.complaint
    if study.unlooked is not None:
        yield "host", study.unlooked
    if study.own and study.compared:
        yield "standing", dead_zone_words(study.dead_zone)


def dead_zone_words(zone: "DeadZone | None") -> str:
    """What a code that stands still gives, from below, from above and afresh, and why."""
    if zone is None:
        return "the limit does not change with the code"
    if zone.late_codes + zone.back_codes == 0:
        return "a code that stands still gives the same limit from below, from above and afresh"
    if zone.latched:
        return (
            f"once it has acted, at {zone.at_c:.1f} degC, it gives no light back down to the"
            " coldest code looked at: unless it is meant to latch, look at the comparison that"
            " releases it, > against >="
        )
    ways = []
    if zone.late_codes:
        ways.append(f"warming, it acts {_gap(zone.late_k, zone.late_codes)} late")
    if zone.back_codes:
        ways.append(f"cooling, it gives light back {_gap(zone.back_k, zone.back_codes)} late")
    return (
        f"a code that stands still gives two limits: {' and '.join(ways)}, at {zone.at_c:.1f} degC;"
        f" {_reason(zone)}. Unless it is meant as hysteresis, this is a dead zone"
    )


def _gap(width_k: float, codes: int) -> str:
    return f"{width_k:.1f} K ({codes} code{'s' * (codes > 1)})"


def _reason(zone: "DeadZone") -> str:
    """What makes a dead zone of this kind, by the way that codes go with temperature."""
    if zone.levels <= FEW_LEVELS:
        return (
            f"with {zone.levels} limits in all it is two comparisons that leave something between"
            " them, such as > and < where one needs >="
        )
    way = "rise" if zone.rises else "fall"
    short = "too cold" if bool(zone.late_codes) else "too hot"
    codes = max(zone.late_codes, zone.back_codes)
    shift = f", as a shift by {codes.bit_length()} does" if codes & (codes + 1) == 0 else ""
    return (
        f"codes {way} as it warms, and what stops {codes} short of the code reads {short}: a"
        f" low-pass in integers that comes to rest before its input{shift}"
    )
