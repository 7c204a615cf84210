"""The fault matrix in words: the verdict, each cell, what the cut-out does, what shows early."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from derate.lamp.limit import limit_words
from derate.limits.fault_kinds import MOMENTS
from derate.report.spread_words import small_share
from derate.report.words import below_or_above, duration, figures, number, percent, signed

if TYPE_CHECKING:
    from derate.limits.cutout_alone import Case, Outcome
    from derate.limits.cutout_service import Service
    from derate.limits.early import Detection
    from derate.limits.fault_cells import Cell
    from derate.limits.faults import FaultStudy, Row
    from derate.study.spread_units import Place

RESTS = (
    "A search, not a bound: these moments, and from the fault on the hottest and stillest air of "
    "the file with everything asked for at full."
)
"""What the matrix rests on."""


HEATED_K = 0.1
"""A place that got hotter than it was at the start by less was not heated."""


def place_words(place: "Place") -> str:
    """A place with a limit as a sentence calls it."""
    return f"junction of {place.name}" if place.junction else limit_words(place.name)


def verdict(study: "FaultStudy") -> str:
    """Whether every limit held where thermal control ought to hold it, and where it did not."""
    failed = [row for row in study.rows if row.unsaved()]
    beyond = [told for row in study.rows if (told := _beyond(row))]
    rest = f" Beyond any thermal control: {_listed(beyond)}." if beyond else ""
    if not failed:
        return f"Held: wherever thermal control ought to, it holds every limit.{rest}"
    told = _listed([f"{row.fault.name} ({', '.join(row.unsaved())})" for row in failed])
    return f"Exceeded where thermal control ought to hold: {told}.{rest}"


def _beyond(row: "Row") -> str:
    """A fault that thermal control cannot save, and at which moments if not at all of them."""
    moments = [moment for moment in row.failed() if not row.fault.ought(moment)]
    if not moments:
        return ""
    return (
        row.fault.name
        if len(moments) == len(MOMENTS)
        else f"{row.fault.name} ({', '.join(moments)})"
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def seen_words(cell: "Cell") -> str:
    """How soon a flag was raised, and whether it stayed."""
    if cell.seen_s is None:
        return "not seen"
    soon = "at once" if cell.seen_s <= 0.0 else f"in {duration(cell.seen_s)}"
    return f"seen {soon}" + (", let go" if cell.let_go else "")


def outcome_words(cell: "Cell") -> str:
    """The place nearest to its limit, or farthest above it; how far above in brackets."""
    return f"{cell.place.name} {number(cell.peak_c)} degC ({signed(-cell.margin_k)} K)"


def cell_words(cell: "Cell") -> str:
    """All that a cell tells, in a sentence."""
    flag = f" ({cell.flag})" if cell.flag else ""
    told = (
        f"{seen_words(cell)}{flag}; driven at {percent(cell.duty)} then; hottest junction "
        f"{number(cell.junction_c)} degC; {place_words(cell.place)} {number(cell.peak_c)} degC, "
        f"{below_or_above(cell.margin_k)}"
    )
    return f"{told}; {saved_words(cell)}" if cell.saved else told


def saved_words(cell: "Cell") -> str:
    """What the cut-outs would have made of it."""
    saved = cell.saved
    if saved is None:
        return ""
    place = f"{place_words(saved.place)} {number(saved.peak_c)} degC"
    if saved.opened_s is None:
        return f"no cut-out opens: {place}, {below_or_above(saved.margin_k)}"
    after = duration(saved.opened_s)
    return f"a cut-out opens after {after}: {place}, {below_or_above(saved.margin_k)}"


def why_words(row: "Row", study: "FaultStudy") -> str:
    """Of a fault that passed a limit: whose task it is, and what the cut-out would do."""
    worst = min(row.cells, key=lambda cell: cell.margin_k)
    when = "always" if len(row.failed()) == len(MOMENTS) else ", ".join(row.failed())
    told = (
        f"{when}: {place_words(worst.place)} up to {number(worst.peak_c)} degC, "
        f"{below_or_above(worst.margin_k)}"
    )
    whose = (
        "thermal control ought to hold it" if row.unsaved() else "thermal control cannot save it"
    )
    why = f" ({row.fault.why})" if row.fault.why else ""
    saved = [cell.saved for cell in row.cells if cell.saved is not None]
    if not saved:
        return f"{told}; {whose}{why}; this lamp has no cut-out that could"
    least = min(saved, key=lambda one: one.margin_k)
    with_it = (
        f"{place_words(least.place)} at most {number(least.peak_c)} degC, "
        f"{below_or_above(least.margin_k)}"
    )
    word = "holds all limits" if least.margin_k >= 0 else "does not hold all limits"
    if all(one.opened_s is None for one in saved):
        word = "does not open"
    elif least.margin_k < 0 and all(one.junctions_hold for one in saved):
        word = "holds those of all junctions, but not all limits"
    return f"{told}; {whose}{why}; the cut-out {word}: {with_it}"


def service_words(one: "Service") -> str:
    """Whether a cut-out stays closed in service."""
    mission = one.mission if " " in one.mission else f"profile {one.mission}"
    where = f"{number(one.peak_c)} degC ({one.unit}, {mission})"
    least = f"{number(one.least_trip_c)} degC from which one of its kind may open"
    if one.stays_closed:
        return (
            f"never opens in service: at most {where}, {number(one.margin_k)} K below the {least}"
        )
    return f"may open in service: {where}, {number(-one.margin_k)} K above the {least}"


def case_words(case: "Case") -> str:
    """The situation of a stuck controller."""
    air = (
        "stopped air"
        if case.airflow < 1.0 and case.airflow <= 0.05
        else f"airflow {case.airflow:g}"
    )
    sink = ", heat sink missing" if case.missing else ""
    return f"from {case.start_c:.0f} degC in {case.ambient_c:.0f} degC, {air}{sink}"


def alone_words(outcome: "Outcome") -> str:
    """What the cut-out alone leaves at one place."""
    place, limit = place_words(outcome.place), f"{outcome.place.limit_c:g} degC"
    where = case_words(outcome.case)
    if outcome.holds:
        return f"{place} at most {number(outcome.peak_c)} of {limit} ({where})"
    return (
        f"{place} passes its limit {_when(outcome)}: {number(outcome.peak_c)} of {limit} ({where})"
    )


def _when(outcome: "Outcome") -> str:
    if outcome.opened_s is None:
        return "and no cut-out opens"
    if outcome.peak_at_s <= outcome.opened_s:
        return "before the cut-out opens"
    return "though the cut-out opens"


def cutout_facts(study: "FaultStudy") -> list[tuple[str, str]]:
    """Both checks of every cut-out, and the trip temperatures that would do."""
    cutouts = study.cutouts
    if cutouts is None:
        told = "none in the lamp file ([cutouts.NAME]); firmware is no substitute for one"
        return [("cut-out", told)]
    found = [(f"cut-out {one.name}", service_words(one)) for one in cutouts.service]
    worst = [
        min(pair, key=lambda one: one.margin_k)
        for pair in zip(cutouts.alone, cutouts.corner, strict=True)
    ]
    told = "; ".join(alone_words(one) for one in worst if one.margin_k < float("inf"))
    word = "holds every limit" if cutouts.holds else "does not hold every limit"
    found.append(("alone", f"{word} with the controller stuck at full: {told}"))
    if (window := window_words(study)) is not None:
        found.append(("trip", window))
    return found


def window_words(study: "FaultStudy") -> str | None:
    """The trip temperatures with which both checks are met."""
    window = study.cutouts.window if study.cutouts else None
    if window is None:
        return None
    starts = f"closed in service from {number(window.from_c)} degC on"
    if window.all_c is not None and window.all_c >= window.from_c:
        return f"{starts}, enough alone up to {number(window.all_c)} degC: in between both are met"
    alone = "at no temperature" if window.all_c is None else f"up to {number(window.all_c)} degC"
    told = f"{starts}, enough alone {alone}: none meets both"
    if window.junctions_c is not None and window.junctions_c >= window.from_c:
        told += f"; for the junctions alone it is enough up to {number(window.junctions_c)} degC"
    return told


def starts_words(study: "FaultStudy") -> str | None:
    """Whether control survives a missing heat sink from every start temperature."""
    if not study.starts:
        return None
    low_c, high_c = study.starts[0][0], study.starts[-1][0]
    span = f"switched on at full from {low_c:g} to {high_c:g} degC"
    heated = [one for one in study.starts if one[1].peak_c > one[0] + HEATED_K]
    worst_c, worst = min(heated or study.starts, key=lambda one: one[1].margin_k)
    where = (
        f"{place_words(worst.place)} {number(worst.peak_c)} degC from {worst_c:g} degC, "
        f"{below_or_above(worst.margin_k)}"
    )
    if study.survives:
        return f"survived by control, {span}: at worst {where}"
    return f"not survived by control, {span}: {where}"


def early_words(one: "Detection") -> str:
    """Whether a joint that conducts worse shows early."""
    look = one.best
    units = look.false_alarms.drawn
    rate = f"{figures(look.threshold_k_per_s)} K/s over the first {duration(look.window_s)}"
    if not look.tells:
        return (
            f"cannot be told apart: at best by {rate}, {look.false_alarms.over} of {units} good "
            f"units above it and {look.missed.over} of {look.missed.drawn} bad ones not"
        )
    least, most = float(look.bad_k_per_s.min()), float(look.good_k_per_s.max())
    return (
        f"told apart after {duration(look.window_s)} of full light on a cold lamp: bad units rise "
        f"by at least {figures(least)} K/s, good ones by at most {figures(most)}; above {rate} "
        f"none of "
        f"{units} good units, so at most {small_share(look.false_alarms.at_most)} of all with "
        f"{100 * look.false_alarms.confidence:.0f} % confidence (exact)"
    )


def early_facts(study: "FaultStudy") -> list[tuple[str, str]]:
    """What is known of a missing heat sink: survived, and seen early."""
    joint = study.around.joint
    if joint is None:
        told = "no joint with a name that all heat passes, so none was degraded"
        return [("heat sink", told)]
    found = []
    if (survived := starts_words(study)) is not None:
        found.append(("heat sink", f"missing ({joint} x 100): {survived}"))
    for one in study.early:
        found.append((f"{joint} x {one.factor:g}", early_words(one)))
    return found
