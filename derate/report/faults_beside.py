"""What stands beside the fault matrix, in words: both checks of the cut-out, what shows early."""

from typing import TYPE_CHECKING

from derate.limits.cutout_service import STANDING
from derate.report.faults_words import place_words
from derate.report.spread_words import small_share
from derate.report.words import below_or_above, duration, figures, number
from derate.study.tune_units import NOMINAL

if TYPE_CHECKING:
    from derate.limits.cutout_alone import Case, Outcome
    from derate.limits.cutout_service import Service
    from derate.limits.early import Detection
    from derate.limits.fault_matrix import FaultStudy

HEATED_K = 0.1
"""A place that got hotter than it was at the start by less was not heated."""


def service_words(one: "Service") -> str:
    """Whether a cut-out stays closed in service."""
    mission = one.mission if one.mission == STANDING else f"profile {one.mission}"
    unit = "the lamp as its file says it" if one.unit == NOMINAL else one.unit
    where = f"{number(one.peak_c)} degC ({unit}, {mission})"
    least = f"{number(one.least_trip_c)} degC from which one of its kind may open"
    if one.stays_closed:
        return (
            f"never opens in service: at most {where}, {number(one.margin_k)} K below the {least}"
        )
    return f"may open in service: {where}, {number(-one.margin_k)} K above the {least}"


def case_words(case: "Case") -> str:
    """The situation of a stuck controller."""
    air = "stopped air" if case.stopped else f"airflow {case.airflow:g}"
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
